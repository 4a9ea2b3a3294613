"""The margin along an edge: the same ground in one step and in many, and none of it nearer to the edge."""

import numpy as np
import pytest
import shapely
from wirerun.geometry import margin
from wirerun.geometry.margin import within_margin


def test_many_corners_and_few_leave_the_same_ground(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wavy edge, a wavy hole: in steps and at once."""
    turn = np.linspace(0.0, 2.0 * np.pi, 600, endpoint=False)
    outer, inner = (
        np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])
        for radius in (40.0 + 1.5 * np.sin(17.0 * turn), 9.0 + 0.8 * np.cos(11.0 * turn))
    )
    area = shapely.Polygon(outer, [inner])
    once = within_margin(area, 1.2)
    monkeypatch.setattr(margin, "_MANY_CORNERS", 100)
    stepped = within_margin(area, 1.2)
    assert once.area < area.area - 1.2 * 250.0
    assert once.symmetric_difference(stepped).area < 1e-3 * once.length
    assert stepped.distance(area.boundary) == pytest.approx(1.2, abs=1e-3)


def test_a_thousand_holes_close_together() -> None:
    """Nothing lies far from all of them; beyond them the ground is what one box would leave."""
    side = np.arange(100)
    x, y = (part.ravel() * 0.2 for part in np.meshgrid(side, side))
    dots = shapely.box(x, y, x + 0.1, y + 0.1)
    area = shapely.box(-20.0, -20.0, 40.0, 40.0).difference(shapely.union_all(dots))
    left = within_margin(area, 1.2)
    alone = shapely.box(-20.0, -20.0, 40.0, 40.0).difference(shapely.box(0.0, 0.0, 19.9, 19.9))
    assert left.symmetric_difference(within_margin(alone, 1.2)).area < 0.5
