"""A wire let down: against least energy, the elastic catenary, scipy's hull, and itself."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import NonlinearConstraint, minimize
from scipy.spatial import ConvexHull
from wirerun.errors import MechanicsError
from wirerun.mechanics import FloatArray, IntArray
from wirerun.mechanics.batches import batches
from wirerun.mechanics.catenary import solve_span_length
from wirerun.mechanics.drop import clear_along, length_to_drop, level_drop_span, level_share
from wirerun.mechanics.hull import least_curvature, upper_hull
from wirerun.mechanics.rest import rest_on_ground
from wirerun.mechanics.row_index import RowIndex
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.taut_string import Pieces, length_of
from wirerun.mechanics.wire import Wire, axial_stiffness, weight_per_m

WIRE = Wire.from_diameter(2.5)
WEIGHT, EA = float(weight_per_m(2.5)), float(axial_stiffness(2.5))


def _rolling(x: FloatArray, height: float = 1.0, tilt: float = 0.0) -> FloatArray:
    return tilt * x + height * (0.5 * np.sin(x / 9.0 + 0.4) + 0.25 * np.cos(x / 4.0))


def _one(x: FloatArray) -> IntArray:
    return np.zeros(x.size, dtype=np.int64)


def _least_energy(length: float, run: float, ends: tuple[float, float], tilt: float, ea: float) -> FloatArray:
    """Nodes of a wire of elastic bars over smooth ground, shape (2, n), by minimising its energy.

    Weight in the nodes, stretch in the bars, no node below the ground it stands over. Nodes move freely along
    the row too, so the ground holds nothing back. Knows neither of hulls nor of a pull that is one number.
    """
    count = 49
    bar = length / (count - 1)
    start = np.linspace((0.0, ends[0]), (run, ends[1]), count).T
    start[1, 1:-1] = np.maximum(start[1, 1:-1], _rolling(start[0, 1:-1], tilt=tilt) + 0.05)

    def full(free: FloatArray) -> FloatArray:
        nodes = start.copy()
        nodes[:, 1:-1] = free.reshape(2, -1)
        return nodes

    def energy(free: FloatArray) -> tuple[float, FloatArray]:
        nodes = full(free)
        dx, dz = np.diff(nodes)
        long = np.hypot(dx, dz)
        pull = ea * (long / bar - 1.0)
        total = 0.5 * (pull**2).sum() * bar / ea + WEIGHT * bar * nodes[1, 1:-1].sum()
        along = pull * np.array([dx, dz]) / long
        grad = along[:, :-1] - along[:, 1:]
        grad[1] += WEIGHT * bar
        return float(total), grad.ravel()

    def slope(free: FloatArray) -> FloatArray:
        x = free.reshape(2, -1)[0]
        eps = 1e-6
        return np.hstack(
            (-np.diag((_rolling(x + eps, tilt=tilt) - _rolling(x - eps, tilt=tilt)) / (2 * eps)), np.eye(x.size))
        )

    def over_ground(free: FloatArray) -> FloatArray:
        x, z = free.reshape(2, -1)
        return np.asarray(z - _rolling(x, tilt=tilt))

    found = minimize(
        energy,
        start[:, 1:-1].ravel(),
        jac=True,
        method="SLSQP",
        constraints=NonlinearConstraint(over_ground, 0.0, np.inf, jac=slope),
        options={"maxiter": 400, "ftol": 1e-10},
    )
    assert found.success, found.message
    return full(found.x)


@pytest.mark.parametrize(("longer", "tilt"), [(1.004, 0.0), (1.002, 0.0), (1.003, 0.1)])
def test_the_wire_of_least_energy_on_rolling_ground(longer: float, tilt: float) -> None:
    run, soft = 48.0, 2e4
    x = np.linspace(0.0, run, 481)
    ground = _rolling(x, tilt=tilt)
    ends = (ground[0] + 1.2, ground[-1] + 1.4)
    length = longer * float(np.hypot(run, ends[1] - ends[0]))
    nodes = _least_energy(length, run, ends, tilt, soft)
    freed = rest_on_ground(Supports(x, ground, _one(x)), Wire(WEIGHT, soft), (1.2, 1.4), length)

    wire = np.interp(nodes[0], x, freed.wire_m)
    assert np.abs(wire - nodes[1]).max() < 0.005  # nodes are 1 m apart; the wire falls 1 m and more
    lying = np.abs(nodes[1] - _rolling(nodes[0], tilt=tilt)) < 1e-4
    assert lying.any()  # or the ground was not tried
    assert freed.ground_share[0] == pytest.approx(lying[1:-1].mean(), abs=0.1)
    pull = soft * (np.hypot(*np.diff(nodes)) / (length / 48) - 1.0)
    # One pull for the whole row: off by up to w times the height of the ground it lies on.
    within = 0.005 * pull[0] + 0.5 * WEIGHT * float(np.ptp(ground))
    assert freed.tension_start_n[0] == pytest.approx(pull[0], abs=within)
    assert freed.tension_far_n[0] == pytest.approx(pull[-1], abs=within)


@pytest.mark.parametrize("rise", [0.0, 12.0, -20.0])
@pytest.mark.parametrize("sag_share", [0.004, 0.015, 0.033])
@pytest.mark.parametrize("run", [30.0, 120.0])
def test_a_free_span_is_the_elastic_catenary(run: float, rise: float, sag_share: float) -> None:
    x = np.linspace(0.0, run, 101)
    chord = float(np.hypot(run, rise))
    # The wire that sags by about this share of its chord.
    pull = WEIGHT * run * run / (8.0 * sag_share * run)
    length = chord * (1.0 + 8.0 / 3.0 * (sag_share * run / chord) ** 2) / (1.0 + pull / EA)
    ground = np.full(101, -60.0)
    ground[0], ground[-1] = 0.0, rise
    freed = rest_on_ground(Supports(x, ground, _one(x)), WIRE, (0.0, 0.0), length)
    exact = solve_span_length(run, rise, WIRE, length)
    assert freed.ground_share[0] == 0.0
    assert freed.tension_start_n[0] == pytest.approx(float(exact.tension_start_n), rel=1e-3)
    assert freed.tension_far_n[0] == pytest.approx(float(exact.tension_end_n), rel=1e-3)
    assert 0.5 * rise - freed.wire_m[50] == pytest.approx(float(exact.sag_m), rel=1e-3)


@pytest.mark.parametrize("length_m", [30.0, 60.0, 100.0, 115.0])
def test_a_level_row_that_does_not_touch_within_2_mm(length_m: float) -> None:
    x = np.linspace(0.0, length_m, 61)
    wire = length_m / (1.0 + 300.0 / EA)
    freed = rest_on_ground(Supports(x, np.zeros(61), _one(x)), WIRE, (1.2, 1.2), wire)
    exact = solve_span_length(length_m, 0.0, WIRE, wire)
    assert freed.middle_above_m[0] == pytest.approx(1.2 - float(exact.sag_m), abs=0.001)


def test_a_level_row_that_touches_leaves_two_half_parabolas() -> None:
    # Where it lies, the wire is level: each end hangs like half of a level span of sag 1.2 m, and so by the
    # catenary of pull H: its run to the touching point is c acosh(1 + 1.2/c).
    x = np.linspace(0.0, 200.0, 2001)
    wire = 200.0 / (1.0 + 300.0 / EA)
    freed = rest_on_ground(Supports(x, np.zeros(2001), _one(x)), WIRE, (1.2, 1.2), wire)
    c = float(freed.horizontal_n[0]) / WEIGHT
    hanging = c * np.arccosh(1.0 + 1.2 / c)
    assert freed.ground_share[0] == pytest.approx(1.0 - 2.0 * hanging / 200.0, abs=0.002)
    path = 200.0 - 2.0 * hanging + 2.0 * c * np.sinh(hanging / c)
    stretched = wire * (1.0 + freed.horizontal_n[0] / EA)
    assert path == pytest.approx(stretched, abs=5e-5)
    assert freed.tension_start_n[0] == pytest.approx(freed.horizontal_n[0] + 1.2 * WEIGHT, rel=1e-4)


@given(seed=st.integers(0, 100_000), count=st.integers(2, 60), bulge=st.floats(-3.0, 3.0))
@settings(max_examples=150, deadline=None)
def test_hulls_of_several_rows_are_those_scipy_finds(seed: int, count: int, bulge: float) -> None:
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.5, 2.0, (3, count)), axis=1)
    y = rng.normal(size=(3, count)) - bulge * (x / 20.0 - 1.0) ** 2
    fixed = np.zeros((3, count), dtype=np.bool_)
    fixed[:, [0, -1]] = True
    corner = upper_hull(x.ravel(), y.ravel(), fixed.ravel()).reshape(3, count)
    for k in range(3):
        # Two points deep below close the hull without taking part in its upper side.
        low = np.array([[x[k, 0], -1e4], [x[k, -1], -1e4]])
        found = ConvexHull(np.vstack((np.column_stack((x[k], y[k])), low))).vertices
        assert set(np.flatnonzero(corner[k])) == {int(v) for v in found if v < count}


def test_the_hull_of_the_docstring_and_its_refusal() -> None:
    x, y = np.arange(5.0), np.array([0.0, 1.0, 1.0, 2.0, 0.0])
    ends = np.array([True, False, False, False, True])
    assert upper_hull(x, y, ends).tolist() == [True, True, False, True, True]
    with pytest.raises(MechanicsError, match="must be fixed"):
        upper_hull(x, y, ~ends)


@given(seed=st.integers(0, 10_000), steps=st.integers(2, 400), rough=st.floats(0.0, 0.3), q=st.floats(1e-6, 0.2))
@settings(max_examples=60, deadline=None)
def test_no_corner_is_ruled_out_before_it_is_one(seed: int, steps: int, rough: float, q: float) -> None:
    rng = np.random.default_rng(seed)
    row = np.repeat([0, 1], [steps, 3 + seed % 40])
    x = np.concatenate([np.cumsum(rng.uniform(0.3, 0.7, count)) for count in np.bincount(row)])
    ground = _rolling(x) + rng.normal(0.0, rough, x.size)
    ends = RowIndex.of(row).ends
    raised = np.where(ends, ground + 1.2, ground)  # as posts raise the ends of the wire
    corner = upper_hull(x, raised - 0.5 * q * x * x, ends)
    least = least_curvature(x, ground, row)
    assert (least < q)[corner].all()
    np.testing.assert_array_equal(upper_hull(x, raised - 0.5 * q * x * x, ends, least < q), corner)


def _block(seed: int = 1) -> tuple[FloatArray, FloatArray, IntArray, FloatArray]:
    """Rows over rolling ground, with the wire each takes at about 300 N, not quite straight from post to post."""
    rng = np.random.default_rng(seed)
    counts = np.array([31, 121, 2, 201, 61])
    row = np.repeat(np.array([0, 1, 4, 5, 9]), counts)
    x = np.concatenate([np.cumsum(rng.uniform(0.8, 1.2, count)) for count in counts])
    ground = _rolling(x + 50.0 * row, height=0.4, tilt=0.1) + rng.normal(0.0, 0.01, x.size)
    first = np.flatnonzero(np.append([True], row[1:] != row[:-1]))
    last = np.append(first[1:], x.size) - 1
    return x, ground, row, np.hypot(x[last] - x[first], ground[last] - ground[first]) * 1.0015


def test_the_wire_lies_nowhere_below_the_ground_and_carries_itself() -> None:
    x, ground, row, length = _block()
    freed = rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.3), length)
    assert freed.solved.all()
    assert freed.residual < 1e-11
    assert (freed.wire_m - ground).min() >= -1e-9
    assert (freed.ground_share > 0.0).any()
    assert (freed.ground_share < 1.0).all()
    assert (freed.tension_greatest_n >= np.maximum(freed.tension_start_n, freed.tension_far_n)).all()
    for k, number in enumerate(np.unique(row)):
        at = row == number
        xs, zs, gs = x[at], freed.wire_m[at], ground[at]
        bend = np.diff(np.diff(zs) / np.diff(xs)) / (0.5 * (xs[2:] - xs[:-2]))
        # Off the ground the wire bends by its weight; on the ground by no more, as the ground only bears.
        run, rise = xs[-1] - xs[0], zs[-1] - zs[0]
        secant = np.hypot(1.0, rise / run)
        limit = WEIGHT * (secant + 0.6 * (length[k] / run - secant)) / freed.horizontal_n[k]
        assert bend.max(initial=0.0) <= limit * (1.0 + 1e-6)
        off = zs[1:-1] - gs[1:-1] > 1e-9
        np.testing.assert_allclose(bend[off], limit, rtol=1e-5)


def _walked(xs: FloatArray, bears: FloatArray, ground: FloatArray, q: float, height: float) -> tuple[float, float]:
    """Share of the middle 80 % that is clear, and greatest height there: the row walked in steps of its 100 000th.

    The wire is the upper hull, by Qhull, of what bears it, with q x^2/2 taken off.
    """
    lowered = bears - 0.5 * q * xs**2
    deep = np.array([[xs.mean(), lowered.min() - 100.0]])  # a hull wants three points
    corner = np.sort(ConvexHull(np.r_[np.c_[xs, lowered], deep]).vertices)
    corner = corner[corner < len(xs)]
    line = np.interp(xs[corner], xs[[0, -1]], lowered[[0, -1]])
    corner = corner[lowered[corner] >= line - 1e-12]
    half = 0.4 * (xs[-1] - xs[0])
    at = 0.5 * (xs[0] + xs[-1]) + np.linspace(-half, half, 100_001)
    above = np.interp(at, xs[corner], lowered[corner]) + 0.5 * q * at**2 - np.interp(at, xs, ground)
    return float((above <= height).mean()), float(above.max())


@pytest.mark.parametrize("height", [0.1, 0.5, 1.1])
def test_what_is_clear_of_the_middle_is_what_one_finds_by_walking(height: float) -> None:
    x, ground, row, length = _block()
    freed = rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.3), length)
    clear = clear_along(Supports(x, ground, row), freed, height)
    for k, number in enumerate(np.unique(row)):
        at = row == number
        bears = ground[at] + np.where(x[at] == x[at].min(), 1.2, np.where(x[at] == x[at].max(), 1.3, 0.0))
        share, greatest = _walked(x[at], bears, ground[at], float(freed.curvature_per_m[k]), height)
        assert clear.share[k] == pytest.approx(share, abs=3e-5)
        assert clear.greatest_m[k] == pytest.approx(greatest, abs=1e-5)


def test_between_two_points_of_the_ground_the_wire_counts_too() -> None:
    """A row of 30 m whose ground is known at its ends alone: 1.2 - 4 f s (1 - s) is 0.5 m where s is known by hand."""
    ends = Supports(np.array([0.0, 30.0]), np.zeros(2), _one(np.zeros(2)))
    freed = rest_on_ground(ends, WIRE, (1.2, 1.2), 30.12)
    sag = 1.2 - freed.middle_above_m[0]
    assert 0.8 < sag < 1.2
    clear = clear_along(ends, freed, 0.5)
    assert clear.share[0] == pytest.approx(np.sqrt(1.0 - 0.7 / sag) / 0.8, rel=1e-9)
    assert clear.greatest_m[0] == pytest.approx(1.2 - 0.36 * sag, rel=1e-9)
    assert clear_along(ends, freed, 1.2 - 0.5 * sag).share[0] == pytest.approx(np.sqrt(0.5) / 0.8, rel=1e-9)
    assert clear_along(ends, freed, 1.2).share[0] == 1.0


def test_where_nothing_is_clear_the_share_is_nothing_and_not_less() -> None:
    """Taut wires over uneven spans: the parts that are up come to the whole middle, or to a last digit more."""
    shares = []
    for seed in range(20):
        x = np.cumsum(np.random.default_rng(seed).uniform(4.0, 6.0, 13))
        level = Supports(x, np.zeros(13), _one(x))
        taut = rest_on_ground(level, WIRE, (1.2, 1.2), (x[-1] - x[0]) / (1.0 + 300.0 / WIRE.axial_stiffness_n))
        shares += clear_along(level, taut, 0.1).share.tolist()
    assert min(shares) == 0.0


@pytest.mark.parametrize(("end", "height", "clearance"), [(1.2, 0.5, 0.0), (1.45, 0.5, 0.0), (1.2, 0.5, 0.2)])
def test_a_level_wire_that_is_just_down_half_way_clears_the_level_share(
    end: float, height: float, clearance: float
) -> None:
    """Whatever the row's length: the length with that sag, by a parabola of its own."""
    asked = level_share(end, height, clearance)
    for run in (20.0, 60.0, 200.0):
        x = np.linspace(0.0, run, 97)
        length = length_to_drop(Supports(x, np.zeros(97), _one(x)), WIRE, (end, end), height, asked)[0]
        freed = rest_on_ground(Supports(x, np.zeros(97), _one(x)), WIRE, (end, end), length)
        assert freed.middle_above_m[0] == pytest.approx(clearance, abs=1e-8)


def test_low_wires_are_asked_to_be_clear_everywhere() -> None:
    assert level_share(0.4, 0.5) == 1.0
    assert level_share(0.5, 0.5) == 1.0
    assert level_share(0.7, 0.5) == 1.0  # 84 % of the row, more than the middle that is looked at
    assert level_share(0.8, 0.5) < 1.0


@pytest.mark.parametrize(("slope", "half"), [(0.0, 0.01), (0.3, 0.049), (-0.4, 0.06), (0.2, 0.5), (1.0, 2.0)])
def test_length_of_a_piece_is_the_integral(slope: float, half: float) -> None:
    run, pull, soft = 40.0, 50.0, 2e4

    def unstretched(u: float) -> float:
        c = math.hypot(1.0, slope + half * u)
        return 0.5 * run * c / (1.0 + pull / soft * c)

    piece = Pieces(np.array([0]), np.array([1]), np.array([run]), np.array([slope]), np.array([0]))
    total, grade = length_of(piece, np.array([2.0 * half / run]), np.array([pull]), np.array([soft]))
    assert total[0] == pytest.approx(quad(unstretched, -1.0, 1.0, epsabs=1e-13)[0], rel=1e-9 if half < 1.0 else 1e-7)
    # The derivative, at a load that stays: q falls as the pull grows.
    more = length_of(piece, np.array([2.0 * half / run / 1.0001]), np.array([1.0001 * pull]), np.array([soft]))[0]
    assert grade[0] == pytest.approx((more[0] - total[0]) / (1e-4 * pull), rel=0.03)


def test_batches_hold_whole_rows() -> None:
    rows = RowIndex.of(np.repeat(np.arange(6), [3, 3, 3, 20, 1, 4]))
    parts = batches(rows, 6)
    assert [(part.rows.start, part.rows.stop) for part in parts] == [(0, 2), (2, 4), (4, 5), (5, 6)]
    assert [(part.points.start, part.points.stop) for part in parts] == [(0, 6), (6, 29), (29, 30), (30, 34)]


def test_a_row_alone_is_as_in_company_and_backwards_as_forwards(monkeypatch: pytest.MonkeyPatch) -> None:
    x, ground, row, length = _block()
    freed = rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.3), length)
    turned = rest_on_ground(Supports(-x[::-1], ground[::-1], 9 - row[::-1]), WIRE, (1.3, 1.2), length[::-1])
    np.testing.assert_allclose(turned.tension_far_n[::-1], freed.tension_start_n, rtol=1e-8)
    np.testing.assert_allclose(turned.wire_m[::-1], freed.wire_m, atol=1e-8)
    np.testing.assert_allclose(turned.middle_above_m[::-1], freed.middle_above_m, atol=1e-8)
    monkeypatch.setattr("wirerun.mechanics.rest._BATCH", 50)
    for k, number in enumerate(np.unique(row)):
        at = row == number
        alone = rest_on_ground(Supports(x[at], ground[at], row[at]), WIRE, (1.2, 1.3), length[k])
        assert alone.horizontal_n[0] == pytest.approx(freed.horizontal_n[k], rel=1e-9)
        assert alone.curvature_per_m[0] == pytest.approx(freed.curvature_per_m[k], rel=1e-9)
        assert alone.ground_share[0] == pytest.approx(freed.ground_share[k], abs=1e-12)


def test_more_wire_lies_lower_everywhere_and_pulls_less() -> None:
    x = np.linspace(0.0, 80.0, 161)
    ground = _rolling(x)
    row = np.repeat(np.arange(8), 161)
    lengths = np.linspace(79.95, 80.6, 8)
    freed = rest_on_ground(Supports(np.tile(x, 8), np.tile(ground, 8), row), WIRE, (1.2, 1.2), lengths)
    assert (np.diff(freed.wire_m.reshape(8, -1), axis=0) <= 1e-9).all()
    assert (np.diff(freed.horizontal_n) < 0.0).all()
    assert (np.diff(freed.ground_share) >= 0.0).all()


@pytest.mark.parametrize(("height", "share"), [(0.3, 0.6), (0.5, 0.8), (0.2, 1.0)])
def test_the_length_to_drop_clears_just_enough(height: float, share: float) -> None:
    x, ground, row, _ = _block(6)
    needed, pull = length_to_drop(Supports(x, ground, row), WIRE, (1.2, 1.3), height, share)
    hangs = needed > 0.0
    assert hangs.sum() >= 3
    assert (pull[~hangs] == np.inf).all()
    at = rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.3), np.where(hangs, needed, np.nan))
    np.testing.assert_allclose(at.horizontal_n[hangs], pull[hangs], rtol=1e-6, atol=0.1)  # all but loose
    found = clear_along(Supports(x, ground, row), at, height + 1e-6).share[hangs]
    assert (found >= share).all()
    less = rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.3), np.where(hangs, needed * (1.0 - 1e-5), np.nan))
    assert (clear_along(Supports(x, ground, row), less, height).share[hangs] < share).all()


def test_a_tighter_wire_to_begin_with_changes_no_length() -> None:
    x, ground, row, length = _block(6)
    land = Supports(x, ground, row)
    hung = rest_on_ground(land, WIRE, (1.2, 1.3), length * 0.999)
    alone, pull = length_to_drop(land, WIRE, (1.2, 1.3), 0.4, 0.9)
    begun, pull_too = length_to_drop(land, WIRE, (1.2, 1.3), 0.4, 0.9, hung)
    assert (hung.horizontal_n > pull).sum() >= 3
    np.testing.assert_allclose(begun, alone, rtol=1e-9)
    np.testing.assert_allclose(pull_too, pull, rtol=1e-6)
    # One that is looser than is wanted does no harm either.
    loose = rest_on_ground(land, WIRE, (1.2, 1.3), length * 1.05)
    np.testing.assert_allclose(length_to_drop(land, WIRE, (1.2, 1.3), 0.4, 0.9, loose)[0], alone, rtol=1e-9)


def test_rows_again_and_again_are_the_same_rows() -> None:
    x, ground, row, length = _block(2)
    land = Supports(x, ground, row)
    once, twice = (
        rest_on_ground(rows, WIRE, (1.2, 1.3), np.tile(length, times))
        for times, rows in ((1, land), (2, land.repeated(2)))
    )
    np.testing.assert_allclose(twice.horizontal_n, np.tile(once.horizontal_n, 2), rtol=1e-12)
    np.testing.assert_allclose(twice.wire_m, np.tile(once.wire_m, 2), atol=1e-9)
    assert land.repeated(2).rows.count == 2 * land.rows.count


def test_over_a_hump_any_wire_is_out_of_the_way() -> None:
    x = np.linspace(0.0, 60.0, 61)
    ground = 3.0 * np.exp(-(((x - 30.0) / 15.0) ** 2))
    needed, pull = length_to_drop(Supports(x, ground, _one(x)), WIRE, (1.2, 1.2), 0.5, 0.4)
    assert (needed[0], pull[0]) == (0.0, np.inf)
    taut = rest_on_ground(Supports(x, ground, _one(x)), WIRE, (1.2, 1.2), 59.0)
    assert taut.middle_above_m[0] == 0.0
    assert clear_along(Supports(x, ground, _one(x)), taut, 0.5).share[0] > 0.4


def test_a_ditch_all_of_which_must_be_clear_asks_for_a_loose_wire() -> None:
    x = np.linspace(0.0, 60.0, 61)
    ground = np.where(np.abs(x - 30.0) < 0.5, -8.0, 0.0)
    path = np.hypot(np.diff(x), np.diff(ground)).sum() + 2.4
    land = Supports(x, ground, _one(x))
    needed = length_to_drop(land, WIRE, (1.2, 1.2), 0.5, 1.0)[0][0]
    assert path - 1.2 < needed <= path
    # Of a ditch that may stay open, nothing is asked: the wire need only lie to both sides of it.
    assert length_to_drop(land, WIRE, (1.2, 1.2), 0.5, 0.95)[0][0] < 61.0
    loose = rest_on_ground(land, WIRE, (1.2, 1.2), path)
    assert loose.loose[0]
    assert loose.solved[0]
    assert (loose.horizontal_n[0], loose.middle_above_m[0], loose.ground_share[0]) == (0.0, 0.0, 1.0)
    assert (loose.curvature_per_m[0], clear_along(land, loose, 0.01).share[0]) == (0.0, 1.0)
    assert loose.tension_start_n[0] == pytest.approx(1.2 * WEIGHT)


def test_a_loose_wire_hangs_plumb_at_the_posts_however_high_the_ground_lies() -> None:
    # So much wire that it lies along all the ground: each end post bears what hangs on it, no more. The ground is 400 m
    # above the sea, and one end is higher than the other.
    x = np.linspace(0.0, 30.0, 31)
    loose = rest_on_ground(Supports(x, np.full(31, 400.0), _one(x)), WIRE, (1.2, 1.5), 40.0)
    assert loose.loose[0]
    assert loose.tension_start_n[0] == pytest.approx(1.2 * WEIGHT, rel=1e-9)
    assert loose.tension_far_n[0] == pytest.approx(1.5 * WEIGHT, rel=1e-9)
    assert loose.tension_greatest_n[0] == loose.tension_far_n[0]
    np.testing.assert_array_equal(loose.wire_m[1:-1], 400.0)


def test_few_ground_points_and_an_odd_middle() -> None:
    # The middle is between points: two give a free span, three uneven ones a kink.
    two = rest_on_ground(
        Supports(np.array([0.0, 40.0]), np.zeros(2), np.zeros(2, dtype=np.int64)), WIRE, (1.2, 1.2), 40.02
    )
    many = rest_on_ground(
        Supports(np.linspace(0, 40, 41), np.append(0.0, np.append(np.full(39, -9.0), 0.0)), _one(np.zeros(41))),
        WIRE,
        (1.2, 1.2),
        40.02,
    )
    assert two.horizontal_n[0] == pytest.approx(many.horizontal_n[0], rel=1e-9)
    assert two.middle_above_m[0] + 9.0 == pytest.approx(many.middle_above_m[0], abs=1e-9)


def test_rows_that_cannot_be_solved_come_out_nan_and_harm_none() -> None:
    x, ground, row, length = _block()
    whole = rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.3), length)
    needed = length_to_drop(Supports(x, ground, row), WIRE, (1.2, 1.3), 0.3, 0.8)[0]
    ground = ground.copy()
    ground[40], length[4] = np.nan, np.nan
    odd = rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.3), length)
    assert odd.solved.tolist() == [True, False, True, True, False]
    assert np.isnan(odd.horizontal_n).tolist() == [False, True, False, False, True]
    assert np.isnan(odd.wire_m[np.isin(row, [1, 9])]).all()
    kept = np.isin(row, [0, 4, 5])
    np.testing.assert_allclose(odd.wire_m[kept], whole.wire_m[kept], atol=1e-9)
    again = length_to_drop(Supports(x, ground, row), WIRE, (1.2, 1.3), 0.3, 0.8)[0]
    assert np.isnan(again).tolist() == [False, True, False, False, False]
    np.testing.assert_allclose(again[~np.isnan(again)], needed[~np.isnan(again)], rtol=1e-12)
    none: FloatArray = np.empty(0)
    assert rest_on_ground(Supports(none, none, np.empty(0, dtype=np.int64)), WIRE, (1.2, 1.2), 5.0).solved.size == 0
    single = (np.zeros(1), np.zeros(1), np.zeros(1, dtype=np.int64))
    assert not rest_on_ground(Supports(*single), WIRE, (1.2, 1.2), 5.0).solved[0]
    assert np.isnan(length_to_drop(Supports(*single), WIRE, (1.2, 1.2), 0.5, 0.8)[0][0])
    assert np.isnan(
        clear_along(Supports(*single), rest_on_ground(Supports(*single), WIRE, (1.2, 1.2), 5.0), 0.5).share[0]
    )


@pytest.mark.parametrize("tension", [100.0, 300.0, 800.0])
@pytest.mark.parametrize("clearance", [0.0, 0.3])
def test_the_span_that_drops_by_itself_is_where_the_take_up_turns(tension: float, clearance: float) -> None:
    run = float(level_drop_span(1.2, WIRE, tension, clearance))
    x = np.linspace(0.0, run, 401)
    strung = run / (1.0 + tension / EA)
    share = level_share(1.2, 0.5, clearance)
    needed = length_to_drop(Supports(x, np.zeros(401), _one(x)), WIRE, (1.2, 1.2), 0.5, share)[0][0]
    shorter = length_to_drop(Supports(0.98 * x, np.zeros(401), _one(x)), WIRE, (1.2, 1.2), 0.5, share)[0][0]
    # What 2 % of the run are in wire; the formula is good to 0.1 % of the run.
    assert shorter - 0.98 * strung > 5e-4
    assert abs(needed - strung) < 0.05 * (shorter - 0.98 * strung)


def test_refusals() -> None:
    x, ground, row, length = _block()
    with pytest.raises(MechanicsError, match="start_height_m must be 0 or more"):
        rest_on_ground(Supports(x, ground, row), WIRE, (-0.1, 1.2), length)
    with pytest.raises(MechanicsError, match="unstretched_m must be above 0"):
        rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.2), 0.0)
    with pytest.raises(MechanicsError, match="far_height_m must be one number or one for each of 5 rows"):
        rest_on_ground(Supports(x, ground, row), WIRE, (1.2, np.ones(3)), length)
    with pytest.raises(MechanicsError, match="x_m must grow along a row"):
        rest_on_ground(Supports(x[::-1], ground, row), WIRE, (1.2, 1.2), length)
    with pytest.raises(MechanicsError, match="height_m must be above 0"):
        length_to_drop(Supports(x, ground, row), WIRE, (1.2, 1.2), 0.0, 0.8)
    with pytest.raises(MechanicsError, match="one_less_share must be 0 or more"):
        length_to_drop(Supports(x, ground, row), WIRE, (1.2, 1.2), 0.5, 1.1)
    with pytest.raises(MechanicsError, match="height_m must be 0 or more"):
        clear_along(Supports(x, ground, row), rest_on_ground(Supports(x, ground, row), WIRE, (1.2, 1.2), 50.0), -0.1)
    with pytest.raises(MechanicsError, match="height_less_clearance_m must be above 0"):
        level_drop_span(1.2, WIRE, 300.0, 1.2)
