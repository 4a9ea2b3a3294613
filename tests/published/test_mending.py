"""Figures of mending a wire: published ones with their source, and sums by hand, each written out."""

import math

import numpy as np
import pytest
from wirerun.mechanics.chain import solve_chain
from wirerun.mechanics.gauge import tension_for
from wirerun.mechanics.splice import drawn_back, kept_at_ends
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire
from wirerun.rules.mending import end_piece_m, piece_m

INCH_M = 0.0254
WIRE = Wire.from_diameter(2.5)


def test_gauge_of_forty_inches() -> None:
    # Iowa State University, Iowa Decanted, 28 Feb 2014: supports 40 in apart, drawn out 0.5 in: T is 20 times it.
    tension = float(tension_for(15.0, 40.0 * INCH_M, 0.5 * INCH_M, 1e6))
    assert tension == pytest.approx(300.0, rel=1e-3)


def test_how_far_the_ends_of_a_broken_wire_draw_back() -> None:
    # By hand: EA = 200e9 * pi * 0.0025^2 / 4 = 981 748 N; 300 N stretch 60 m by 300 * 60 / 981 748 = 18.33 mm, of which
    # 15 m before the break have 4.58 mm and 45 m behind it 13.75 mm.
    level = Supports(6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=np.int64))
    back = drawn_back(solve_chain(level, WIRE, 300.0), 2, 0.5)
    stiffness = 200e9 * math.pi * 0.0025**2 / 4.0
    assert 1000.0 * back.near_m == pytest.approx(1000.0 * 300.0 * 15.0 / stiffness, rel=1e-3)
    assert 1000.0 * back.far_m == pytest.approx(13.75, abs=0.01)


def test_what_is_left_of_a_pull_at_the_ends() -> None:
    # By hand: over a crest of 0.3 m between spans of 6 m a wire without sag turns by 2 atan(0.3 / 6) = 0.0999 rad; with
    # mu = 0.329 (two turns hold 5000 lb with 80 lb: Beer and Johnston, Statics, 11th ed., 8.104) a pull of 1000 N in
    # the second span leaves 1000 exp(-0.0329) = 967.7 N in the first.
    crest = Supports(6.0 * np.arange(3.0), np.array([0.0, 0.3, 0.0]), np.zeros(3, dtype=np.int64))
    chain = solve_chain(crest, Wire.from_diameter(2.5, 1e-3), 1000.0)
    kept = kept_at_ends(chain, 0.329, 1, np.zeros(3))
    assert 1000.0 * kept.near == pytest.approx(1000.0 * math.exp(-0.329 * 2.0 * math.atan(0.05)), abs=0.01)
    assert kept.far == 1.0


def test_a_piece_leaves_the_wire_as_long_as_it_was() -> None:
    # By hand: 100 m broke at 40 m, 0.20 m are lost. 0.5 m are cut off on each side; what is left lies 0.15 m double in
    # each join: 39.5 + piece + 59.3 - 0.30 = 100 asks for 1.50 m.
    assert piece_m(0.2, 0.5, 0.15) == pytest.approx(100.0 - 39.5 - 59.3 + 0.30)
    # At the end post one join, and 0.5 m for the knot: 99.3 + piece - 0.15 = 100 + 0.5.
    assert end_piece_m(0.2, 0.5, 0.15, 0.5) == pytest.approx(100.5 - (100.0 - 0.2 - 0.5) + 0.15)
