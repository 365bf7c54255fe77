"""Why it was missed, and cold at arrival: sections of the review.

As the review.
Edited by: developer.
"""
