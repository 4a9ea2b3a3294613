"""Wires as strung over short rows, against formulas worked by hand and a chain of solved spans."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq
from wirerun.errors import SettingError
from wirerun.findings import Findings
from wirerun.model.layout import Posts
from wirerun.settings import StateSettings, WireSettings
from wirerun.stages.wires.strung import strain_from, string_wires, strung_state

FRUITING = WireSettings(id="fruiting", kind="fixed", height_m=0.9, diameter_mm=3.15, tension_n=1000.0)
LOWER = WireSettings(id="lower", kind="foliage", height_m=1.2, lines=2, tension_n=300.0)
WIRES = (FRUITING, LOWER)


def level(posts: Posts, places: int = 13) -> np.ndarray:
    """No ground above the line between the posts' feet."""
    return np.zeros((len(posts.near), places))


def test_level_spans_have_the_sag_and_length_of_the_handbook(stand: Callable[..., Posts]) -> None:
    """Sag w l^2/(8 T), slack w^2 l^3/(24 T^2), stretch T l/EA (any handbook of statics), 6 m at 300 N, 2.5 mm steel.

    A metre of stretched wire weighs less by T/EA, 3e-4.
    """
    posts, notes = stand([0.0] * 4, [0.0] * 3), Findings("B01")
    strung, _ = string_wires(posts, level(posts), WIRES, 0.3, notes)
    area = np.pi / 4.0 * 0.0025**2
    weight, stiffness = 7850.0 * 9.80665 * area, 200e9 * area
    assert strung.sag_m[1] == pytest.approx(np.full(5, weight * 36.0 / 2400.0 / (1.0 + 300.0 / stiffness)), rel=2e-5)
    slack = weight**2 * 216.0 / (24.0 * 300.0**2)
    assert strung.stretched_m[1] == pytest.approx(np.full(5, 6.0 + slack), abs=1e-8)
    assert strung.span_cut_m[1] == pytest.approx((6.0 + slack) / (1.0 + 300.0 / stiffness), abs=1e-8)
    assert strung.cut_m[1] == pytest.approx([3 * strung.span_cut_m[1, 0], 2 * strung.span_cut_m[1, 0]], rel=1e-12)
    assert strung.clearance_m[1] == pytest.approx(np.full(5, 1.2 - weight * 36.0 / 2400.0), abs=2e-6)
    assert notes == []


def test_loads_are_those_of_the_worked_example(stand: Callable[..., Posts]) -> None:
    """Heights 0.3, 0, 0.5 m: 130.7 N up; 0, 0.3, 0 m: 102.1 N down; 6 m spans, 1000 N, 2.5 mm wire."""
    wire = FRUITING.model_copy(update={"diameter_mm": 2.5})
    posts = stand([0.3, 0.0, 0.5], [0.0, 0.3, 0.0])
    _, chains = string_wires(posts, level(posts), (wire,), 0.3, Findings())
    state = strung_state(posts, chains)
    assert state.load_n[0, posts.middle] == pytest.approx([-130.7, 102.1], abs=0.05)
    assert np.isnan(state.load_n[0, posts.is_end]).all()
    assert state.tension_n[0, posts.middle[0]] == pytest.approx(1000.0 - 0.3 * 0.378, abs=1e-3)
    assert state.ends.start_n[0] == pytest.approx([1000.0, 1000.0])
    # Uphill it is tighter by the weight of the wire the rise would hold: 0.2 m of 0.378 N/m.
    assert state.ends.far_n[0, 0] - 1000.0 == pytest.approx(0.2 * 0.378, rel=0.01)


def test_pulls_on_end_posts_are_horizontal(stand: Callable[..., Posts]) -> None:
    """On a 40 % grade the pull is T cos(slope), a little less at the far end for the wire's own slope there."""
    posts = stand([0.0, 2.4, 4.8], [0.0, 0.0])
    _, chains = string_wires(posts, level(posts), WIRES, 0.3, Findings())
    ends = strung_state(posts, chains).ends
    assert ends.start_pull_n[1, 0] == pytest.approx(300.0 / np.hypot(1.0, 0.4), rel=2e-3)
    assert ends.far_pull_n[1, 0] == pytest.approx(ends.far_n[1, 0] / np.hypot(1.0, 0.4), rel=2e-3)
    assert ends.start_pull_n[1, 1] == pytest.approx(300.0, rel=1e-4)


def test_the_wire_over_a_hump_is_as_near_as_the_ground_comes(stand: Callable[..., Posts]) -> None:
    posts, above, notes = stand([0.0, 0.0, 0.0]), np.zeros((2, 13)), Findings("B01")
    above[1, 3] = 0.95  # a quarter along the second span
    strung, _ = string_wires(posts, above, WIRES, 0.3, notes)
    weight = 7850.0 * 9.80665 * np.pi / 4.0 * 0.0025**2
    sag_there = weight * 36.0 / 2400.0 * 4.0 * 0.25 * 0.75
    assert strung.clearance_m[1, 1] == pytest.approx(1.2 - sag_there - 0.95, abs=2e-6)
    assert [(note.code, note.place) for note in notes] == [("low-clearance", "B01")] * 2
    assert "Wire fruiting comes closer to the ground than 0.3 m in 1 span, down to -0.05 m" in notes[0].message
    assert "B01-R001-S002" in notes[0].message


def test_a_clip_set_higher_lifts_the_wire_over_the_ground_beside_it(stand: Callable[..., Posts]) -> None:
    """Ground that comes up 0.5 m amid two spans; the clip between them set 0.2 m higher lifts both middles."""
    posts, above = stand([0.0, 0.0, 0.0]), np.zeros((2, 13))
    above[:, 6] = 0.5
    level_wire, _ = string_wires(posts, above, (LOWER,), 0.3, Findings())
    higher = replace(posts, clip_shift_m=np.array([0.0, 0.2, 0.0]))
    lifted, _ = string_wires(higher, above, (LOWER,), 0.3, Findings())
    assert lifted.clearance_m[0] - level_wire.clearance_m[0] == pytest.approx([0.1, 0.1], abs=1e-4)


def test_a_row_of_one_span_keeps_all_its_tension(stand: Callable[..., Posts]) -> None:
    posts, notes = stand([0.0, 0.0]), Findings("B01")
    _, chains = string_wires(posts, level(posts), (LOWER,), 0.3, notes)
    found = strain_from(posts, chains, (LOWER,), StateSettings(min_far_tension=1.0), notes)
    assert (found.kept[0].tolist(), list(found.way[0]), list(notes)) == ([1.0], ["one end"], [])


def test_a_tension_that_cannot_carry_a_span_names_the_setting(stand: Callable[..., Posts]) -> None:
    slack = LOWER.model_copy(update={"tension_n": 0.5})
    posts = stand([0.0, 0.0])
    with pytest.raises(SettingError) as caught:
        string_wires(posts, level(posts), (slack,), 0.3, Findings())
    assert caught.value.place == "wires.lower.tension_n = 0.5"
    assert caught.value.message.startswith("the wire cannot be strung")


def test_friction_takes_the_capstan_share_and_asks_for_a_second_end(stand: Callable[..., Posts]) -> None:
    """A zigzag of 0.6 m turns by 2 atan(0.1) at each of 9 clips: exp(-0.2 * 9 * 0.19934) is left, Euler's capstan.

    On the level it turns by its sag alone, w l/T at each clip.
    """
    heights = [0.6 * (number % 2) for number in range(11)]
    posts, notes = stand(heights, [0.0] * 11), Findings("B01")
    _, chains = string_wires(posts, level(posts), (LOWER,), 0.3, Findings())
    found = strain_from(posts, chains, (LOWER,), StateSettings(friction=0.2, min_far_tension=0.8), notes)
    left = np.exp(-0.2 * 9 * 2.0 * np.arctan(0.1))
    weight = 7850.0 * 9.80665 * np.pi / 4.0 * 0.0025**2
    assert found.kept[0] == pytest.approx([left, np.exp(-0.2 * 9 * weight * 6.0 / 300.0)], abs=2e-3)
    assert list(found.way[0]) == ["both ends", "one end"]
    assert found.far_n[0, 0] == pytest.approx(300.0 * left, rel=0.01)
    (note,) = notes
    assert note.code == "strain-from"
    assert f"in 1 row of 60 m, down to {100.0 * left:.0f} %; strain 1 from both ends: " in note.message
    assert note.message.endswith("B01-R001.")


def test_the_strainer_goes_where_the_pulls_from_both_ends_have_turned_the_wire_alike(
    stand: Callable[..., Posts],
) -> None:
    """Rough ground on the first third of the row only: by the capstan the place is the middle of all turning."""
    number = np.arange(61)
    posts = stand(np.where(number <= 20, 0.3 * (number % 2), 0.0), np.zeros(5))
    _, chains = string_wires(posts, level(posts), (LOWER,), 0.3, Findings())
    found = strain_from(posts, chains, (LOWER,), StateSettings(friction=0.3, min_far_tension=0.8), Findings())
    assert list(found.way[0]) == ["middle", "one end"]
    # Each rough post turns the wire by about 2 x 0.3/6; each level one by its weight over the tension, 0.0076.
    turned = np.cumsum(np.where((number > 0) & (number < 20), 0.1, 0.0076))
    middle = int(np.argmin(np.abs(turned - 0.5 * turned[-1])))
    assert 10 <= middle <= 14
    assert 0 <= found.middle_post[0, 0] - middle + 1 <= 2


def test_the_cut_length_is_what_brings_the_tension_back(stand: Callable[..., Posts]) -> None:
    """Twin: one horizontal pull per span, parabola and stretch, the lengths of the spans summed; 0.1 mm on 30 m."""
    heights = [0.0, 0.4, 0.1, 0.5, 0.2, 0.6]
    posts = stand(heights)
    strung, _ = string_wires(posts, level(posts), (LOWER,), 0.3, Findings())
    area = np.pi / 4.0 * 0.0025**2
    weight, stiffness = 7850.0 * 9.80665 * area, 200e9 * area

    def tension_at(height: float) -> float:
        stored = 300.0 + 300.0**2 / (2.0 * stiffness) + weight * height
        return float(brentq(lambda t: t + t**2 / (2.0 * stiffness) - stored, 200.0, 400.0))

    length = 0.0
    for low, high in pairwise(heights):
        chord = np.hypot(6.0, high - low)
        tension = 0.5 * (tension_at(low) + tension_at(high))
        across = weight * 6.0 / chord  # weight square to the chord, per metre of it
        length += chord * (1.0 + across**2 * chord**2 / (24.0 * tension**2)) / (1.0 + tension / stiffness)
    assert strung.cut_m[0, 0] == pytest.approx(length, abs=1e-4)
