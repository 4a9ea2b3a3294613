"""Which surveyed post is which planned one, on a row that can be counted by hand."""

import numpy as np
import pytest
from wirerun.stages.compare.match_posts import match_posts

PLANNED = np.array([[0.0, 0.0], [6.0, 0.0], [12.0, 0.0], [18.0, 0.0]])
EAST = np.tile([1.0, 0.0], (4, 1))


def test_offsets_are_along_the_row_and_to_its_right() -> None:
    surveyed = np.array([[18.0, -0.3], [0.2, 0.0], [11.9, 0.1]])
    made = match_posts(PLANNED, EAST, surveyed, 1.0)
    assert made.found.tolist() == [1, -1, 2, 0]
    assert made.along_m == pytest.approx([0.2, np.nan, -0.1, 0.0], nan_ok=True)
    # South of a row that runs east is to its right.
    assert made.across_m == pytest.approx([0.0, np.nan, -0.1, 0.3], nan_ok=True)
    assert made.extra.tolist() == []
    turned = match_posts(PLANNED[:, ::-1], EAST[:, ::-1], surveyed[:, ::-1], 1.0)
    assert turned.across_m == pytest.approx([0.0, np.nan, 0.1, -0.3], nan_ok=True)


def test_of_two_near_one_place_the_nearer_is_it_and_the_other_extra() -> None:
    made = match_posts(PLANNED, EAST, np.array([[6.3, 0.0], [6.1, 0.0], [30.0, 0.0]]), 1.0)
    assert made.found.tolist() == [-1, 1, -1, -1]
    assert made.extra.tolist() == [0, 2]


def test_one_post_is_not_two() -> None:
    near = np.array([[0.0, 0.0], [0.8, 0.0]])
    made = match_posts(near, EAST[:2], np.array([[0.5, 0.0]]), 1.0)
    assert made.found.tolist() == [-1, 0]


def test_nothing_surveyed() -> None:
    made = match_posts(PLANNED, EAST, np.zeros((0, 2)), 1.0)
    assert (made.found == -1).all()


def test_nothing_planned() -> None:
    made = match_posts(np.zeros((0, 2)), np.zeros((0, 2)), PLANNED[:2], 1.0)
    assert [len(each) for each in (made.found, made.along_m, made.across_m)] == [0, 0, 0]
    assert made.extra.tolist() == [0, 1]
