"""The fair care page; in compare/ units and groups beside one another.

May use: base, statistics, definitions, reading, words, drawing, pages/shell.
Edited by: developer.
"""
