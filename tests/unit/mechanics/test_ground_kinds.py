"""Which posts are taken together, and from which neighbours their ground is told."""

import numpy as np
import pytest
from wirerun.mechanics.ground_kinds import CORE, Bank, Heights, tiles_of

ROWS, POSTS = 30, 40
ROW, AT = np.divmod(np.arange(ROWS * POSTS), POSTS)
XY = np.stack((6.0 * AT, 2.5 * ROW), axis=-1)


def heights(turned_rad: float = 0.0) -> Heights:
    """Posts of a plane: rows of 40, 6 m apart along them and 2.5 m across."""
    cos, sin = np.cos(turned_rad), np.sin(turned_rad)
    return Heights(XY @ np.array([[cos, sin], [-sin, cos]]), XY[:, 0], np.zeros(len(XY)), ROW, len(XY))


def test_every_post_is_in_one_tile_and_tiles_are_full_and_compact() -> None:
    tiles = tiles_of(XY, np.arange(len(XY)))
    some = tiles.member >= 0
    assert np.sort(tiles.member[some]).tolist() == list(range(len(XY)))
    assert some.sum(axis=1).mean() > 7.5  # of nine
    for member, middle in zip(tiles.member, tiles.middle, strict=True):
        mine = XY[member[member >= 0]]
        np.testing.assert_allclose(middle, mine.mean(axis=0))
        assert np.hypot(*(mine - middle).T).max() < 15.0


def test_a_gap_between_two_lobes_of_a_block_parts_tiles() -> None:
    """No tile has its middle in a gap where nothing stands."""
    there = (XY[:, 1] < 20.0) | (XY[:, 1] > 55.0)
    tiles = tiles_of(XY[there], np.arange(there.sum()))
    assert ((tiles.middle[:, 1] < 20.0) | (tiles.middle[:, 1] > 55.0)).all()


@pytest.mark.parametrize("turned_rad", [0.0, 0.7])
def test_where_rows_have_ground_of_their_own_the_neighbours_reach_further_along(turned_rad: float) -> None:
    whole = heights(turned_rad)
    middle = whole.xy[[15 * POSTS + 20]]
    reach = {}
    for across in (1.0, 3.0):
        (hood,) = whole.hoods(middle, Bank(48, (), by_row=True, across=across))
        assert len(np.unique(hood)) == 48
        # The core's come last: the nearest of all, whatever counts across.
        near = np.argsort(np.hypot(*(whole.xy - middle).T), kind="stable")[: CORE - 4]
        assert np.isin(near, hood[-CORE:]).all()
        reach[across] = np.ptp(AT[hood]), np.ptp(ROW[hood])
    assert reach[3.0][0] >= reach[1.0][0] + 4
    assert reach[3.0][1] < reach[1.0][1]
