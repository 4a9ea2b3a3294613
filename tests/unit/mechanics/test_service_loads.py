"""A loaded wire against a solver that shares nothing with it: every span by MoorPy, in space that is really turned."""

import numpy as np
import pytest
from moorpy.Catenary import catenary as moorpy_catenary
from numpy.typing import NDArray
from scipy.optimize import fsolve
from wirerun.errors import MechanicsError
from wirerun.mechanics.chain import solve_chain, unstretched_totals
from wirerun.mechanics.give import Give
from wirerun.mechanics.season import chain_at_length
from wirerun.mechanics.service_loads import under_load
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire

X = np.array([0.0, 6.0, 11.5, 17.5, 23.0, 29.0])
Z = np.array([0.0, 0.35, 0.1, 0.9, 1.6, 1.5])
ROW = np.zeros(6, dtype=np.int64)
WIRE = Wire.from_diameter(2.5)
FloatArray = NDArray[np.float64]


def _turned(down: float, side: float) -> FloatArray:
    """Rotation about the row's direction that turns the load on a metre straight down; along, aside, up."""
    lean = np.arctan2(side, down)
    cos, sin = np.cos(lean), np.sin(lean)
    return np.array([[1.0, 0.0, 0.0], [0.0, cos, sin], [0.0, -sin, cos]])


def _by_moorpy(total_m: float, down: float, side: float) -> tuple[FloatArray, FloatArray]:
    """Forces of the wire on every support (along, aside, up) and tension there, sliding freely, by MoorPy's spans."""
    turn, load = _turned(down, side), float(np.hypot(down, side))
    places = np.column_stack([X, np.zeros(6), Z]) @ turn.T
    steps = np.diff(places, axis=0)
    run, rise = np.hypot(steps[:, 0], steps[:, 1]), steps[:, 2]
    stiff = float(WIRE.axial_stiffness_n)

    def solved(length: FloatArray) -> FloatArray:
        """Horizontal and vertical forces on the near and the far end of each span, as MoorPy has them."""
        found = []
        for dx, dz, unstretched in zip(run, rise, length, strict=True):
            # MoorPy wants the far end above the near one: a span that falls is walked from its other end.
            found_there = moorpy_catenary(dx, abs(dz), unstretched, stiff, load, CB=-1e4, Tol=1e-12)
            near_h, near_v, far_h, far_v = found_there[:4]
            found.append((near_h, near_v, far_h, far_v) if dz >= 0.0 else (-far_h, far_v, -near_h, near_v))
        return np.array(found)

    def misses(length: FloatArray) -> FloatArray:
        forces = solved(length)
        near, far = np.hypot(forces[:, 0], forces[:, 1]), np.hypot(forces[:, 2], forces[:, 3])
        return np.append(far[:-1] - near[1:], 1e6 * (length.sum() - total_m))

    chord = np.hypot(run, rise)
    length = fsolve(misses, chord * (total_m / chord.sum()), xtol=1e-13)
    forces = solved(length)
    on = np.zeros((6, 3))
    for span in range(5):
        unit = np.array([steps[span, 0], steps[span, 1], 0.0]) / run[span]
        on[span] += forces[span, 0] * unit + forces[span, 1] * np.array([0.0, 0.0, 1.0])
        on[span + 1] += forces[span, 2] * unit + forces[span, 3] * np.array([0.0, 0.0, 1.0])
    return on @ turn, np.hypot(forces[:, 0], forces[:, 1])


@pytest.mark.parametrize(("down", "side"), [(0.0, 21.1), (18.8, 0.0), (18.8, 58.6), (3.0, 5.0)])
def test_forces_on_every_support_are_moorpys(down: float, side: float) -> None:
    supports = Supports(X, Z, ROW)
    strung = unstretched_totals(solve_chain(supports, WIRE, 300.0))
    ours = under_load(supports, WIRE, strung, down, side)
    theirs, near = _by_moorpy(float(strung[0]), float(WIRE.weight_n_per_m) + down, side)
    # MoorPy stops at displacements that a taut wire answers with hundredths of a newton.
    np.testing.assert_allclose(ours.tension_n[:-1], near, rtol=2e-5)
    np.testing.assert_allclose(np.column_stack([ours.along_n, ours.side_n, -ours.down_n]), theirs, atol=0.05)


def test_without_a_load_it_is_the_bare_wire() -> None:
    supports = Supports(X, Z, ROW)
    strung = unstretched_totals(solve_chain(supports, WIRE, 300.0))
    bare, found = chain_at_length(supports, WIRE, strung).chain, under_load(supports, WIRE, strung, 0.0, 0.0)
    np.testing.assert_allclose(found.tension_n, bare.support_tension_n, rtol=1e-12)
    np.testing.assert_allclose(found.down_n[1:-1], bare.clip_load_n[1:-1], rtol=1e-9)
    assert not found.side_n.any()


def test_what_bears_on_the_wire_bears_on_the_supports() -> None:
    supports = Supports(X, Z, ROW)
    strung = unstretched_totals(solve_chain(supports, WIRE, 300.0))
    found = under_load(supports, WIRE, strung, 18.8, 58.6)
    assert found.down_n.sum() == pytest.approx(float(strung[0]) * (float(WIRE.weight_n_per_m) + 18.8), rel=1e-9)
    assert found.side_n.sum() == pytest.approx(float(strung[0]) * 58.6, rel=1e-9)
    assert found.along_n.sum() == pytest.approx(0.0, abs=1e-7)


def test_rows_have_loads_and_ends_of_their_own() -> None:
    two = Supports(np.tile(X, 2), np.tile(Z, 2), np.repeat([0, 1], 6))
    strung = unstretched_totals(solve_chain(two, WIRE, 300.0))
    give = Give(np.array([0.0, 2e-5]), np.full(2, 300.0))
    both = under_load(two, WIRE, strung, np.array([0.0, 18.8]), np.array([21.1, 58.6]), give)
    one = under_load(Supports(X, Z, ROW), WIRE, strung[:1], 0.0, 21.1)
    np.testing.assert_allclose(both.tension_n[:6], one.tension_n, rtol=1e-9)
    stands = under_load(two, WIRE, strung, np.array([0.0, 18.8]), np.array([21.1, 58.6]))
    assert both.start_tension_n[1] < 0.95 * stands.start_tension_n[1]


def test_a_load_that_cannot_be_is_refused() -> None:
    supports = Supports(X, Z, ROW)
    with pytest.raises(MechanicsError, match="side_n_per_m must be 0 or more and finite, but is -1"):
        under_load(supports, WIRE, 29.2, 0.0, -1.0)
