"""The data quality page.

May use: base, statistics, definitions, reading, words, drawing, pages/shell.
Edited by: developer.
"""
