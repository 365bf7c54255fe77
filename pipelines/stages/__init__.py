"""How a store is made: one room for each of its schemas, in the order in which data flows.

A stage may use base, statistics, definitions and the stages to its left.
Edited by: developer.
"""
