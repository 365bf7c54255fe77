"""What was measured: means and spreads by month.

As the review.
Edited by: developer.
"""
