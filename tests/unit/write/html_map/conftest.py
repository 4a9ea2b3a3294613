"""What the page is given, as a person would read it."""

from collections.abc import Callable
from typing import Any

import pytest
from wirerun.records import Plan
from wirerun.write.html_map import build_map

Column = list[float | str | None]


@pytest.fixture(scope="session")
def read() -> Callable[[Any], Column]:
    """Return the function that gives the values of a column, of numbers or not."""
    return lambda column: list(column["values"] if isinstance(column, dict) else column)


@pytest.fixture(scope="session")
def map_page() -> Callable[[Plan], str]:
    """Return the function that gives the page of a plan."""
    return lambda plan: str(build_map(plan).get_root().render())
