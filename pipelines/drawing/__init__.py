"""Charts and small marks: theme, layers, axes, charts over months, periods and rows, page.css,
scripts.

May use: base, statistics, definitions, reading, words.
Edited by: developer.
"""
