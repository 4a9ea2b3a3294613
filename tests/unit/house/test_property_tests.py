"""The test command draws the same examples every time; exploring draws others."""

import pkgutil
import sys

import pytest
import wirerun
from hypothesis import given, settings
from hypothesis import strategies as st

EXPLORE = "explore"


def drawn() -> list[float]:
    """What a property test is given, one after the other."""
    values = []

    @settings(max_examples=50)
    @given(st.floats(0.0, 5.0))
    def property_test(value: float) -> None:
        values.append(value)

    property_test()
    return values


@pytest.mark.skipif(settings.get_current_profile_name() == EXPLORE, reason="examples were asked for that differ")
def test_the_same_examples_are_drawn_every_time() -> None:
    """Also whatever ran before: numbers of loaded modules are among the examples, so all modules are loaded."""
    assert drawn() == drawn()
    assert settings().derandomize
    modules = {module.name for module in pkgutil.walk_packages(wirerun.__path__, "wirerun.")}
    assert modules - {"wirerun.__main__"} <= sys.modules.keys()


def test_exploring_draws_others_and_no_test_fails_for_its_time() -> None:
    explore = settings.get_profile(EXPLORE)
    assert not explore.derandomize
    assert explore.deadline is None
    assert settings().deadline is None
