"""The review as files for inside the unit: page, PDF, charts, tables, results, meeting sheet,
mail, slides.

May use: base, definitions, reading, words, drawing, pages/shell, pages/review, pages/meeting.
Edited by: developer.
"""
