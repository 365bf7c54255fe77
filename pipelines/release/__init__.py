"""What may leave the unit: masks and their proof, the ledger, the released page and reports.

May use: base, statistics, definitions, reading, stages/measure, words, drawing, pages/shell.
Edited by: developer.
"""
