"""Rows of posts on ground that a person can write down, and what wires do over them."""

from collections.abc import Callable, Sequence

import numpy as np
import pytest
from wirerun.arrays import FloatArray, words
from wirerun.geometry.station import Paths
from wirerun.model.layout import Posts, Rows
from wirerun.model.wires import InState, RowEnds, WireStates
from wirerun.state import State

Stand = Callable[..., Posts]
Year = Callable[..., WireStates]


def stand_on(*ground_m: Sequence[float], span_m: float = 6.0, turn_rad: float = 0.0, block_id: str = "B01") -> Posts:
    """Rows of block B01 running north, 2.4 m apart, a post a height, all spans alike in plan."""
    counts = [len(row) for row in ground_m]
    row = np.repeat(np.arange(len(counts)), counts)
    number = np.concatenate([np.arange(count) for count in counts])
    east = 2.4 * np.arange(len(counts))
    length = span_m * (np.array(counts) - 1.0)
    paths = Paths.straight(np.c_[east, np.zeros(len(counts))], np.c_[east, length])
    row_id = words(f"{block_id}-R{r + 1:03d}" for r in range(len(counts)))
    rows = Rows(block_id, row_id, np.zeros(len(counts)), length, paths)
    station = span_m * number
    ends = (number == 0) | (number == np.array(counts)[row] - 1)
    return Posts(
        rows,
        row,
        words(f"{row_id[r]}-P{n + 1:03d}" for r, n in zip(row, number, strict=True)),
        station,
        paths.place(row, station),
        np.concatenate([np.asarray(heights, dtype=np.float64) for heights in ground_m]),
        station,
        np.where(ends, 0.0, turn_rad),
    )


def year_of(posts: Posts, **loads: FloatArray) -> WireStates:
    """All states of the wires: loads [wire, intermediate post] by the name of the state; a state not named has none.

    `<state>_tension` is the tension there, 300 N unless told; end forces are that tension as well.
    """
    wires = len(loads["strung"])
    states = []
    for state in State:
        load, tension = (np.full((wires, len(posts)), np.nan) for _ in range(2))
        if state in loads:
            load[:, posts.middle] = loads[state]
            tension[:, posts.middle] = loads.get(f"{state}_tension", 300.0)
        at_ends = np.full((wires, len(posts.rows)), 300.0 if state in loads else np.nan)
        states.append(InState(state, load, np.where(np.isnan(load), np.nan, tension), RowEnds(*[at_ends] * 4)))
    return WireStates.of(states)


@pytest.fixture
def stand() -> Stand:
    """Builder of posts."""
    return stand_on


@pytest.fixture
def year() -> Year:
    """Builder of the states of wires."""
    return year_of
