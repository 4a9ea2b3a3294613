"""The map of a zone: true to its scale and to north, by the geodesic; rows named without running into each other."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import shapely
from geographiclib.geodesic import Geodesic
from wirerun.records import Plan
from wirerun.write.cards.facts import take_apart
from wirerun.write.cards.pen import LEFT, RIGHT, Pen, Xy
from wirerun.write.cards.zone_map import ZonePlace, map_block


class NotingPen(Pen):
    """A pen that notes what it is told to draw, and draws nothing."""

    def __init__(self) -> None:
        self.words: list[str] = []
        self.boxes: list[tuple[float, float, float, float | None]] = []
        self.names: list[tuple[str, shapely.LineString]] = []
        self.paths: list[Sequence[Xy]] = []

    def text(self, x: float, y: float, text: str, size: float, **_: Any) -> float:  # noqa: ANN401, ARG002
        """Note the words."""
        self.words.append(text)
        return 2.0 * len(text)

    def slanted_text(self, line: tuple[Xy, Xy], text: str, size: float) -> None:  # noqa: ARG002
        """Note the name and the line it stands on."""
        self.names.append((text, shapely.LineString(line)))

    def lines(self, paths: Iterable[Sequence[Xy]], **_: Any) -> None:  # noqa: ANN401
        """Note the paths."""
        self.paths += list(paths)

    def dots(self, centres: Iterable[Xy], radius: float, **_: Any) -> None:  # noqa: ANN401
        """Note nothing."""

    def box(self, x: float, y: float, wide: float, high: float, **style: Any) -> None:  # noqa: ANN401, ARG002
        """Note place, width and filling."""
        self.boxes.append((x, y, wide, style.get("fill")))


def drawn(plan: Plan, room: float = 150.0) -> NotingPen:
    pen = NotingPen()
    block = map_block(ZonePlace(plan, take_apart(plan)[0]), room)
    assert block is not None
    block.draw(pen, 12.0)
    return pen


def turned(plan: Plan, bearing_deg: float, rows: int = 30) -> Plan:
    """Return the plan with rows of 80 m and 2.4 m apart, at a bearing."""
    along = np.radians(bearing_deg)
    east, north = 1.0 / 83_900.0, 1.0 / 111_100.0
    lines = []
    for row in range(rows):
        x, y = 2.4 * row * np.cos(along), -2.4 * row * np.sin(along)
        ends = [(x, y), (x + 80.0 * np.sin(along), y + 80.0 * np.cos(along))]
        lines.append(shapely.LineString([(-7.51 + e * east, 41.17 + n * north) for e, n in ends]))
    first = plan.rows.iloc[[0] * rows].assign(row_id=[f"B01-R{row:03d}" for row in range(rows)])
    return replace(plan, rows=gpd.GeoDataFrame(first, geometry=lines, crs=plan.rows.crs).reset_index(drop=True))


@pytest.mark.parametrize("bearing", [0.0, 62.0, 90.0, 135.0, 280.0])
def test_rows_are_true_to_scale_and_north(plan: Plan, bearing: float) -> None:
    plan = turned(plan, bearing, rows=2)
    pen = drawn(plan)
    scale = int(next(match[1] for word in pen.words if (match := re.fullmatch(r"1:(\d+)", word))))
    squares = [(x, y, fill) for x, y, wide, fill in pen.boxes if wide == pytest.approx(1.5)]
    # The last of each is in the legend.
    starts, fars = ([(x, y) for x, y, here in squares if here == fill][:-1] for fill in (0.0, 1.0))
    for line, start, far in zip(plan.rows.geometry, starts, fars, strict=True):
        (lon, lat), (lon2, lat2) = line.coords
        truth = Geodesic.WGS84.Inverse(lat, lon, lat2, lon2)
        height = plan.frames[0].mean_height_m
        metres = truth["s12"] * (1.0 + height / 6.37e6)
        right, up = far[0] - start[0], start[1] - far[1]
        assert np.hypot(right, up) * scale / 1e3 == pytest.approx(metres, abs=0.01)
        off = np.degrees(np.arctan2(right, up)) - truth["azi1"]
        assert (off + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=0.02)


def test_the_scale_is_the_largest_round_one_that_fits(plan: Plan) -> None:
    wide = [next(w for w in drawn(plan, room).words if w.startswith("1:")) for room in (80.0, 150.0)]
    scales = [int(word[2:]) for word in wide]
    assert scales[0] >= scales[1]
    # Two rows of 24 and 18 m in a zone 36 m wide: 1:250 shows it 144 mm wide, 1:200 would be 180 mm.
    assert scales[1] == 250


@pytest.mark.parametrize("bearing", [0.0, 62.0, 90.0, 135.0, 280.0])
@pytest.mark.parametrize("rows", [3, 30, 200])
def test_names_of_rows_stay_apart_and_on_the_map(plan: Plan, bearing: float, rows: int) -> None:
    pen = drawn(turned(plan, bearing, rows))
    assert 1 <= len(pen.names) <= rows
    areas = [line.buffer(1.0, cap_style="flat") for _, line in pen.names]
    assert all(area.bounds[0] > LEFT and area.bounds[2] < RIGHT for area in areas)
    crossing = [one.intersection(two).area for place, one in enumerate(areas) for two in areas[:place]]
    assert sum(crossing) == pytest.approx(0.0, abs=1e-6)
    numbers = [int(name[1:]) for name, _ in pen.names]
    assert len(set(np.diff(numbers))) <= 1  # every row, or every so many


def test_what_lies_beyond_the_frame_is_cut_off(plan: Plan) -> None:
    pen = drawn(plan)
    places = np.concatenate([np.asarray(path) for path in pen.paths if len(path)])
    assert places[:, 0].min() >= LEFT - 1e-6
    assert places[:, 0].max() <= RIGHT + 1e-6


def test_a_zone_without_places_has_no_map(plan: Plan) -> None:
    nowhere = plan.rows.assign(geometry=gpd.GeoSeries([shapely.LineString()] * len(plan.rows), crs=plan.rows.crs))
    gone = replace(plan, rows=nowhere, zones=plan.zones.iloc[:0])
    assert map_block(ZonePlace(gone, take_apart(gone)[0]), 150.0) is None
