"""Schema raw: exports read as verbatim text, with file and line; rows kept or rejected.

May use: base, definitions.
Edited by: developer.
"""
