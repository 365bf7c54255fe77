"""Awkward export files, each written from the same few newborns, and what becomes of each."""
