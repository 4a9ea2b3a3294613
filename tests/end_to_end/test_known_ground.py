"""The whole plan on ground whose answer is known from outside: a tilted plane, and rolling ground."""

import io
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pyproj import Geod
from scipy.optimize import root
from wirerun import plan_config, tables
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import LonLat
from wirerun.write.schedule import csv_bytes

GEOD = Geod(ellps="WGS84")
OUTLINE = [(-75.0, -32.0), (40.0, -45.0), (78.0, -8.0), (52.0, 15.0), (60.0, 41.0), (-38.0, 36.0)]


@pytest.mark.parametrize(("lon", "epsg"), [(-6.01, 25829), (-11.985, 25829)])
def test_row_lengths_are_geodesics_at_ground_height(make_scene: Callable[..., Any], lon: float, epsg: int) -> None:
    """A tilted plane at 1800 m beside a zone edge, against pyproj.Geod (Karney 2013) carried to the ground's height.

    The radius is the one in the row's own direction (Euler's formula), so the check does not share the frame's.
    """
    frame = Frame(round(lon, 3), 42.1, 1800.0)
    scene = make_scene(lambda x, y: 1800.0 + 0.15 * x - 0.2 * y, OUTLINE, frame=frame, epsg=epsg)
    plan = plan_config(scene.config(rows={"bearing_deg": 62.0}, elevation={"accuracy_m": 0.03, "smoothing_m": 1.0}))
    rows = plan.rows
    azimuth, _, geodesic = GEOD.inv(rows["start_lon"], rows["start_lat"], rows["end_lon"], rows["end_lat"])
    sin2 = np.sin(np.radians(42.1)) ** 2
    prime = GEOD.a / np.sqrt(1 - GEOD.es * sin2)
    meridian = GEOD.a * (1 - GEOD.es) / (1 - GEOD.es * sin2) ** 1.5
    radius = 1.0 / (np.cos(np.radians(azimuth)) ** 2 / meridian + np.sin(np.radians(azimuth)) ** 2 / prime)
    on_ground = geodesic * (1.0 + (rows["start_ground_m"] + rows["end_ground_m"]) / 2.0 / radius)
    assert len(rows) > 20
    assert (np.abs(rows["length_m"] - on_ground) / rows["length_m"]).max() < 1e-5
    # In the zone's own grid the same rows would be 3 cm in 100 m too long or more: the check has teeth.
    assert np.abs(azimuth - 62.0).max() < 0.02
    assert (plan.clips["clip"] == "one-way").all()


def test_spans_in_the_file_add_up_to_their_row(make_scene: Callable[..., Any]) -> None:
    """Rows of 228.010 m in 39 spans of 5.84641 m, up a plane of 12 %: to the millimetre each, 16 mm would be missing.

    What is allowed is half of the last digit that is written: a tenth of a millimetre of a span, a millimetre of a row.
    """
    half = 228.01 / 2.0 + 6.0
    corners = [(-6.5, -half), (6.5, -half), (6.5, half), (-6.5, half)]
    scene = make_scene(lambda _, y: 300.0 + 0.12 * y, corners)
    plan = plan_config(scene.config(rows={"bearing_deg": 0.0, "headland_m": 6.0}))
    rows, spans, wires = (
        pd.read_csv(io.BytesIO(csv_bytes(table, getattr(plan, table.name))), encoding="utf-8-sig")
        for table in (tables.ROWS, tables.SPANS, tables.WIRES)
    )
    by_wire = spans.groupby(["row_id", "wire_id"])
    added = by_wire[["horizontal_m", "rise_m", "chord_m", "cut_m"]].sum()
    added = added.assign(allowed=0.5e-4 * by_wire.size() + 0.501e-3).reset_index()
    whole = added.merge(rows, on="row_id").merge(wires, on=["row_id", "wire_id"])
    assert len(whole) == len(wires) > 4
    assert (whole["spans"] == 39).all()
    climb = whole["end_ground_m"] - whole["start_ground_m"]
    for sums, of_row in (
        (whole["horizontal_m"], whole["length_m"]),
        (whole["rise_m"], climb),
        (whole["chord_m"], whole["slope_length_m"]),
        (whole["cut_m"], whole["cut_m_per_line"]),
    ):
        more = 0.5e-3 if of_row is climb else 0.0  # a difference of two heights
        assert (np.abs(sums - of_row) <= whole["allowed"] + more).all(), of_row.name


def rolling(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Hillside with a gully and a spur, curved at the scale of a few spans."""
    return 300.0 + 0.18 * x - 0.11 * y + 1.6 * np.sin(x / 17.0 + y / 60.0) + 0.9 * np.cos(y / 13.0)


def irvine_span(run: float, rise: float, tension: float, weight: float, stiffness: float) -> tuple[float, float, float]:
    """Vertical pull at both ends (along the wire) and tension at the far end, by root finding on Irvine's equations.

    Source: H. M. Irvine, Cable Structures, MIT Press 1981, section 1.5: x and z of an elastic catenary.
    """

    def miss(unknown: np.ndarray) -> list[float]:
        pull, vertical, length = unknown
        far = vertical + weight * length
        stretch = pull / stiffness * length
        x = stretch + pull / weight * (np.arcsinh(far / pull) - np.arcsinh(vertical / pull))
        z = (far**2 - vertical**2) / (2.0 * stiffness * weight) + (
            np.hypot(pull, far) - np.hypot(pull, vertical)
        ) / weight
        return [x - run, z - rise, (np.hypot(pull, vertical) - tension) / 100.0]

    chord = np.hypot(run, rise)
    guess = [tension * run / chord, tension * rise / chord - weight * chord / 2.0, chord]
    found = root(miss, guess, tol=1e-13)
    assert np.abs(miss(found.x)).max() < 1e-8
    pull, vertical, length = found.x
    far = vertical + weight * length
    return float(vertical), float(far), float(np.hypot(pull, far))


def test_clip_loads_on_rolling_ground_agree_with_an_independent_catenary(make_scene: Callable[..., Any]) -> None:
    """Twin: true ground at each post, one Irvine span after the other, tension handed on at each post.

    Weight and stiffness are typed in from the handbook: 2.5 mm steel weighs 38.5 kg/km (The Press, 1 Jun 1984: 38.58).
    """
    weight = 7850.0 * 9.80665 * np.pi * 0.0025**2 / 4.0
    stiffness = 200e9 * np.pi * 0.0025**2 / 4.0
    assert weight / 9.80665 * 1000.0 == pytest.approx(38.58, rel=0.005)
    scene = make_scene(rolling, OUTLINE, cell_m=0.25)
    plan = plan_config(scene.config())
    clips = plan.clips[plan.clips["wire_id"] == "lower"].set_index("post_id")
    stand = scene.frame.to_plane(LonLat(plan.posts["lon"].to_numpy(), plan.posts["lat"].to_numpy()))
    x, y = stand.x_m, stand.y_m
    posts = plan.posts.assign(true_m=rolling(x, y))
    sections = 0
    for row_id in plan.rows["row_id"].iloc[[3, 11, 19, 27]]:
        row = posts[posts["row_id"] == row_id]
        station, height = row["station_m"].to_numpy(), row["true_m"].to_numpy()
        tension, rising = 300.0, []
        for run, rise in zip(np.diff(station), np.diff(height), strict=True):
            start, end, tension = irvine_span(run, rise, tension, weight, stiffness)
            rising.append((start, end))
        load = np.array([left[1] - right[0] for left, right in pairwise(rising)])
        ids = row["post_id"].to_numpy()[1:-1]
        np.testing.assert_allclose(clips.loc[ids, "load_strung_n"], load, atol=0.5)
        wanted, clear = load < -5.0, np.abs(load + 5.0) > 1.0
        two_way = clips.loc[ids, "clip_strung"].to_numpy() == "two-way"
        np.testing.assert_array_equal(two_way[clear], wanted[clear])
        assert (clips.loc[ids[wanted & clear], "clip"] == "two-way").all()
        sections += wanted.sum()
    assert sections > 10
