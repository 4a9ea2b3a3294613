"""Work zones as areas, in a block of 40 x 100 m with rows to the north every 2 m."""

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, box
from wirerun.geometry.frame import Frame
from wirerun.stages.work.zone_areas import place_zones

FRAME = Frame(-7.6, 41.2, 300.0)


def test_zones_meet_half_way_and_reach_a_row_spacing_beyond_their_rows() -> None:
    """Three rows from 10 m and two from 16 m on: from 8 to 15 and from 15 to 20 m, and 2 m beyond the rows' ends.

    7 m and 5 m by 94 m, less what is round there: at each outer corner 4 - pi, a quarter of a square less its circle,
    and between two rows 4 - sqrt(3) - 2 pi / 3, half of it on either side.
    """
    rows = np.array([LineString([(x, 5.0), (x, 95.0)]) for x in (10.0, 12.0, 14.0, 16.0, 18.0)], dtype=object)
    zones = place_zones(np.array([0, 0, 0, 1, 1]), FRAME.unflatten(rows), box(0.0, 0.0, 40.0, 100.0), 2.0, FRAME)
    flat = [FRAME.flatten(zone) for zone in zones]
    corner, notch = 4.0 - math.pi, 4.0 - math.sqrt(3.0) - 2.0 * math.pi / 3.0
    by_hand = [7.0 * 94.0 - 2.0 * corner - 5.0 * notch, 5.0 * 94.0 - 2.0 * corner - 3.0 * notch]
    assert shapely.area(flat) == pytest.approx(by_hand, rel=5e-4)
    assert [shape.bounds[0] for shape in flat] == pytest.approx([8.0, 15.0], abs=0.01)
    assert [shape.bounds[2] for shape in flat] == pytest.approx([15.0, 20.0], abs=0.01)
