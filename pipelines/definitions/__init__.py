"""All that an analyst edits (contract, measures, units, lists in TOML) and what reads it.

May use: base.
Edited by: analyst the .toml and .sql, developer the .py.
"""
