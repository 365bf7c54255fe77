"""Every page of a store in one folder, and the page that leads to them.

May use: base, reading, words, drawing, pages/shell, pages/fair, pages/quality, pages/change,
pages/review, pages/meeting.
Edited by: developer.
"""
