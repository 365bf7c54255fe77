"""What a store remembers: deliveries, steps, and by one rule which rows stand.

May use: base, definitions, stages/raw, stages/typed.
Edited by: developer.
"""
