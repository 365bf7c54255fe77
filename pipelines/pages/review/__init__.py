"""The monthly review; in harm/ what is rare and unwanted, in timing/ how long it took, in spread/
what was measured, in why/ why it was missed.

May use: base, statistics, definitions, reading, words, drawing, pages/shell.
Edited by: developer.
"""
