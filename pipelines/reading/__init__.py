"""A built store read for a page: named queries, the month shown, small numbers, signals, gaps.

May use: base, statistics, definitions.
Edited by: developer.
"""
