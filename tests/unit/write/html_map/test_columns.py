"""Columns and paths come back from their packed form as a person would read them."""

import json
from collections.abc import Callable
from itertools import accumulate
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, box
from wirerun.write.html_map.columns import ALPHABET, pack_codes, pack_numbers, pack_path, pack_rings, pack_words

Read = Callable[..., list[Any]]


@given(
    st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), max_size=30),
    st.integers(min_value=0, max_value=3),
)
def test_numbers_come_back_rounded(read: Read, values: list[float | None], decimals: int) -> None:
    back = read(pack_numbers(np.array(values, dtype=float), decimals))
    assert [one is None for one in back] == [one is None for one in values]
    for given_one, one in zip(values, back, strict=True):
        assert given_one is None or one == pytest.approx(given_one, abs=0.5001 * 10**-decimals)


@given(st.lists(st.one_of(st.none(), st.integers(min_value=0, max_value=4000)), max_size=40))
def test_codes_come_back_in_runs_or_without(read: Read, codes: list[int | None]) -> None:
    assert read(pack_codes(codes)) == codes
    many = [code for code in codes for _ in range(7)]
    assert read(pack_codes(many)) == many


def test_worked_example_of_the_docstring() -> None:
    assert pack_numbers([6.0, np.nan, 12.04], 2) == {"decimals": 2, "text": "xlBAprC"}
    assert pack_numbers([0.0, -1.0, 1.0, -2.0, np.nan], 0) == {"decimals": 0, "text": "BCDEA"}


def test_a_steady_climb_is_written_in_steps() -> None:
    packed = pack_numbers(1000.0 + 6.0 * np.arange(50), 2)
    assert packed["steps"]
    assert packed["text"].endswith("xlB" * 49)


@given(
    st.lists(st.tuples(*[st.one_of(st.none(), st.floats(-1e6, 1e6))] * 2), max_size=30),
    st.integers(min_value=0, max_value=3),
)
def test_numbers_told_by_those_before_come_back(
    read: Read, pairs: list[tuple[float | None, float | None]], decimals: int
) -> None:
    values, like = (np.array([pair[k] for pair in pairs], dtype=float) for k in (0, 1))
    back = read(pack_numbers(values, decimals, like), read(pack_numbers(like, decimals)))
    for given_one, one in zip(values, back, strict=True):
        assert (one is None) == np.isnan(given_one)
        assert one is None or one == pytest.approx(given_one, abs=0.5001 * 10**-decimals + 1e-9)


def test_twins_are_written_once() -> None:
    loads = np.random.default_rng(4).normal(0.0, 60.0, 500)
    twin = pack_numbers(loads, 1, loads)
    assert twin["like"]
    assert len(twin["text"]) + len(twin["runs"]) < 10


def test_what_repeats_is_written_once() -> None:
    packed = pack_codes([3] * 400 + [None] * 2 + [3] * 500)
    assert packed["text"] == "HAH"
    assert len(packed["runs"]) == 5


def test_nothing_packs_to_nothing() -> None:
    assert pack_numbers([]) == {"decimals": 0, "text": ""}
    assert pack_words([]) == {"words": [], "text": ""}


def test_each_word_is_written_once_and_gaps_stay(read: Read) -> None:
    words = ["over", None, "under", "over", float("nan")]
    packed = pack_words(words)
    assert packed["words"] == ["over", "under"]
    assert read(packed) == ["over", None, "under", "over", None]


def test_no_sign_needs_an_escape() -> None:
    """Neither JSON nor HTML may read anything into a column."""
    assert len(set(ALPHABET)) == 64
    assert json.dumps(ALPHABET) == f'"{ALPHABET}"'
    assert not set(ALPHABET) & set("<>&'/")


def test_a_path_is_steps_from_the_origin_longitude_first() -> None:
    path = pack_path([(-7.6, 41.2), (-7.5999990, 41.2000005)], (-7.6000010, 41.1999970))
    assert path == [10, 30, 10, 5]
    assert list(accumulate(path[::2])) == [10, 20]


def test_holes_and_parts_all_give_rings() -> None:
    holed = box(0, 0, 3, 3).difference(box(1, 1, 2, 2))
    assert len(pack_rings(MultiPolygon([holed, box(5, 5, 6, 6)]), (0.0, 0.0))) == 3
    assert pack_rings(MultiPolygon(), (0.0, 0.0)) == []
    assert pack_rings(Point(1, 1), (0.0, 0.0)) == []
