"""Rare and unwanted: each newborn against what was to be expected before care.

As the review.
Edited by: developer.
"""
