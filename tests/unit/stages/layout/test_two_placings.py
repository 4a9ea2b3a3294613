"""Two placings of posts on one ground: which places they share, and of which loads they are told."""

import numpy as np
import pytest
from wirerun.model.layout import Stations
from wirerun.stages.layout.placing import place_equal
from wirerun.stages.layout.two_placings import beside, known_together, nearest, stand

from tests.unit.stages.layout.test_fitted import config
from tests.unit.stages.layout.test_known_ground import rows_of
from tests.unit.stages.layout.test_placing import EAST, rows_on


def test_two_placings_weighed_together_are_told_where_each_has_its_posts() -> None:
    """Places nearer than 5 cm are one: their height is known once."""
    ground, settings = rows_on(0.35 * np.cos(2.0 * np.pi * EAST / 20.0)), config()
    rows, equal = rows_of(np.array([-2.0])), place_equal(ground, settings.posts)
    even = stand(rows, ground, equal, settings)
    station = equal.station_m.copy()
    station[3] += 0.04
    station[5] += 1.0
    other = stand(rows, ground, Stations(equal.row, station), settings)
    near, apart = nearest(other.posts, equal)
    assert near.tolist() == list(range(len(equal.row)))
    assert np.flatnonzero(apart).tolist() == [5]
    more = beside(other, equal)
    assert more is not None
    assert more.along_m == pytest.approx(station[[5]])
    told = known_together(even, other)
    for known, posts in zip(told, (even.posts, other.posts), strict=True):
        assert np.isnan(known.plain).tolist() == posts.is_end.tolist()
    # Only the posts beside the one that moved, and itself, have other spans.
    same = np.isclose(told[0].plain, told[1].plain, rtol=0.03, equal_nan=True)
    assert np.flatnonzero(~same).tolist() == [4, 5, 6]
