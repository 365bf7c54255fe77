"""Signal or noise: pure functions, frames and numbers in, frames and numbers out.

No module here reads a store, draws or writes prose. A published method is pinned to its
published example in tests/statistics.
"""
