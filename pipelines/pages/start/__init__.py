"""The start notebook's selectors, which show one measure of the review.

May use: base, statistics, definitions, reading, words, drawing, pages/shell, pages/review.
Edited by: developer.
"""
