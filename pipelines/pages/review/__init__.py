"""The monthly review; in timing/ how long it took, in why/ why it was missed.

May use: base, statistics, definitions, reading, words, drawing, pages/shell.
Edited by: developer.
"""
