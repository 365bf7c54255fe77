"""Signal or noise: pure methods, frames and numbers in and out, each pinned to a published
example.

May use: nothing of ours.
Edited by: developer.
"""
