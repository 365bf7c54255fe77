"""Files that lanugo writes for an analyst: a unit, a measure, the dictionary, notebooks; a lesson.

May use: base, definitions, stages/raw, stages/typed, stages/judged, stages/measure, expectations.
Edited by: developer.
"""
