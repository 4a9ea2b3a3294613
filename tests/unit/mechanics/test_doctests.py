"""The worked examples in the docstrings of mechanics give what they say, and every public function has one."""

import doctest
import importlib
import inspect
import pkgutil

import numpy as np
import pytest
import wirerun.mechanics

MODULES = [wirerun.mechanics.__name__] + [
    f"{wirerun.mechanics.__name__}.{module.name}" for module in pkgutil.iter_modules(wirerun.mechanics.__path__)
]
NAMES = {name: getattr(wirerun.mechanics, name) for name in wirerun.mechanics.__all__} | {"np": np}


@pytest.mark.parametrize("name", MODULES)
def test_examples_give_what_they_say(name: str) -> None:
    result = doctest.testmod(importlib.import_module(name), extraglobs=NAMES, optionflags=doctest.FAIL_FAST)
    assert result.failed == 0


@pytest.mark.parametrize("name", [name for name, value in NAMES.items() if inspect.isfunction(value)])
def test_public_functions_have_an_example_and_say_what_they_take_and_return(name: str) -> None:
    said = inspect.getdoc(NAMES[name]) or ""
    for wanted in (">>> ", "Parameters\n---", "Returns\n---"):
        assert wanted in said, f"{name} has no {wanted.split()[0]}"
