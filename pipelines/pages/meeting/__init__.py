"""The meeting sheet: the review on two sheets of paper, and as a text for a mail.

May use: base, reading, words, pages/shell, pages/review.
Edited by: developer.
"""
