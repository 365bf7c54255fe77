"""Tests of the synthetic newborns."""
