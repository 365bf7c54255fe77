"""What all pages share: a piece of a page, showing it, running a notebook, writing one file.

May use: base, definitions, words, drawing.
Edited by: developer.
"""
