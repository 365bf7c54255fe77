"""What every room may use: errors, fixed SQL by name, frames, hashes, whole files, the store.

May use: nothing of ours.
Edited by: developer.
"""
