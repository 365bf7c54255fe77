"""Schema measure: states, counts, rates; worked examples run; what a store says of itself.

May use: base, statistics, definitions, stages/typed, stages/judged, stages/mart.
Edited by: developer.
"""
