"""Columns and paths come back from their packed form as a person would read them."""

from itertools import accumulate
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, box

from pipeline.write.map_columns import pack_numbers, pack_path, pack_rings, pack_words


def unpack(packed: dict[str, Any]) -> list[float | None]:
    """Return the numbers as the page's own decoder does."""
    total, out = 0, []
    for value in packed["values"]:
        if value is not None and packed.get("steps"):
            total += value
        out.append(None if value is None else (total if packed.get("steps") else value) / 10 ** packed["decimals"])
    return out


@given(
    st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), max_size=30),
    st.integers(min_value=0, max_value=3),
)
def test_numbers_come_back_rounded(values: list[float | None], decimals: int) -> None:
    back = unpack(pack_numbers(np.array(values, dtype=float), decimals))
    assert [one is None for one in back] == [one is None for one in values]
    for given_one, one in zip(values, back, strict=True):
        assert given_one is None or one == pytest.approx(given_one, abs=0.5001 * 10**-decimals)


def test_worked_example_of_the_docstring() -> None:
    packed = pack_numbers([6.0, np.nan, 12.04], 2)
    assert packed == {"decimals": 2, "values": [600, None, 604], "steps": True}
    assert pack_numbers([7.0, np.nan, -7.0], 0) == {"decimals": 0, "values": [7, None, -7]}


def test_a_steady_climb_is_written_in_steps() -> None:
    packed = pack_numbers(1000.0 + 6.0 * np.arange(50), 2)
    assert packed["steps"]
    assert packed["values"][1:] == [600] * 49


def test_nothing_packs_to_nothing() -> None:
    assert pack_numbers([]) == {"decimals": 0, "values": []}
    assert pack_words([]) == {"words": [], "at": []}


def test_each_word_is_written_once_and_gaps_stay() -> None:
    packed = pack_words(["over", None, "under", "over", float("nan")])
    assert packed == {"words": ["over", "under"], "at": [0, None, 1, 0, None]}


def test_a_path_is_steps_from_the_origin_longitude_first() -> None:
    path = pack_path([(-7.6, 41.2), (-7.5999990, 41.2000005)], (-7.6000010, 41.1999970))
    assert path == [10, 30, 10, 5]
    assert list(accumulate(path[::2])) == [10, 20]


def test_holes_and_parts_all_give_rings() -> None:
    holed = box(0, 0, 3, 3).difference(box(1, 1, 2, 2))
    assert len(pack_rings(MultiPolygon([holed, box(5, 5, 6, 6)]), (0.0, 0.0))) == 3
    assert pack_rings(MultiPolygon(), (0.0, 0.0)) == []
    assert pack_rings(Point(1, 1), (0.0, 0.0)) == []
