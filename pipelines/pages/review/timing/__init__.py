"""How long it took: a section of the review.

As the review.
Edited by: developer.
"""
