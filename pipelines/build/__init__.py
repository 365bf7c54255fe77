"""A build: every stage in order, two stores compared, what is doubtful in a unit's file.

May use: base, definitions, reading, stages/raw, stages/typed, stages/judged, stages/mart,
stages/measure, expectations, memory, words.
Edited by: developer.
"""
