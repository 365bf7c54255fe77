"""Schema mart: one row per newborn and one per event, in SQL alone.

May use: stages/judged.
Edited by: developer.
"""
