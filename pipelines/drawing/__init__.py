"""Charts and small marks: theme, layers, charts over months, periods and rows, page.css, draw.js.

May use: base, statistics, definitions, reading, words.
Edited by: developer.
"""
