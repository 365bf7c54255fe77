"""Schema typed: the contract's names and types, times in minutes after birth.

May use: base, definitions, stages/raw.
Edited by: developer.
"""
