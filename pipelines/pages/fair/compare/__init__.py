"""Units and groups beside one another: a section of the fair care page.

As the fair care page.
Edited by: developer.
"""
