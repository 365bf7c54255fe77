"""The change study, and the plan before a change.

May use: base, statistics, definitions, reading, words, drawing, pages/shell.
Edited by: developer.
"""
