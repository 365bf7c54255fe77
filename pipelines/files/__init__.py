"""The review as files for inside the unit: page, PDF, charts, tables, results.

May use: base, definitions, reading, words, drawing, pages/shell, pages/review.
Edited by: developer.
"""
