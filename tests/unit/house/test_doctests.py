"""The examples in the docstrings run as they stand, in every module that has any; mechanics has a test of its own."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[3] / "pipeline" / "wirerun"
MODULES = sorted(
    ".".join(("wirerun", *file.relative_to(PACKAGE).with_suffix("").parts))
    for file in PACKAGE.rglob("*.py")
    if ">>> " in file.read_text() and file.parent.name != "mechanics"
)


def test_there_are_examples() -> None:
    assert {"wirerun.api", "wirerun.wording", "wirerun.terms", "wirerun.rules.mending"} <= set(MODULES)


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_a_module_run(name: str) -> None:
    failed, tried = doctest.testmod(import_module(name))
    assert tried > 0
    assert failed == 0
