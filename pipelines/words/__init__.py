"""Numbers, states, measures, signals, strata and cautions in words: one home for each wording.

May use: base, statistics, definitions, reading.
Edited by: developer.
"""
