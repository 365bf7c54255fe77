"""Every example in a docstring holds."""

import doctest
import importlib

import pytest

from .rooms import ROOT, modules

NAMES = [
    ".".join(path.with_suffix("").parts).removesuffix(".__init__")
    for path in modules()
    if ">>>" in (ROOT / path).read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", NAMES)
def test_examples_of_a_module_hold(name: str) -> None:
    failed, tried = doctest.testmod(importlib.import_module(name))
    assert tried > 0
    assert failed == 0
