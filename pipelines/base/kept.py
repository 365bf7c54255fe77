"""Keeping on an object what was worked out of it, so that nobody works it out twice."""

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

D = TypeVar("D")
T = TypeVar("T")


def kept_on_data(work_out: Callable[[D], T]) -> Callable[[D], T]:
    """Let a function of one object that never changes be worked out once for each object.

    The answer stands in the object's own ``__dict__`` and goes with it; a changed copy
    (``dataclasses.replace``) begins without. Whoever gets the answer must not change it.
    """
    name = f"_kept_{work_out.__module__}.{work_out.__qualname__}"

    @wraps(work_out)
    def kept(data: D) -> T:
        held = vars(data)
        if name not in held:
            held[name] = work_out(data)
        answer: T = held[name]
        return answer

    return kept
