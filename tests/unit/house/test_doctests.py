"""The examples in the docstrings of the public API and of the words run as they stand; mechanics has its own test."""

import doctest
from importlib import import_module

import pytest


@pytest.mark.parametrize("name", ["wirerun.api", "wirerun.wording"])
def test_examples_of_a_module_run(name: str) -> None:
    failed, tried = doctest.testmod(import_module(name))
    assert tried > 0
    assert failed == 0
