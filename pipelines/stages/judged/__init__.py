"""Schema judged: flags, masks, answers to flags, completeness.

May use: base, definitions, stages/raw, stages/typed.
Edited by: developer.
"""
