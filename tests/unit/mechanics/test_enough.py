"""Marks that the slack of a freed wire passes, against the slack itself as `length_to_drop` finds it."""

import numpy as np
import pytest
from numpy.typing import NDArray
from wirerun.mechanics.drop import clear_along, length_to_drop, level_share
from wirerun.mechanics.enough import Freed, marks_passed
from wirerun.mechanics.give import Give, rigid
from wirerun.mechanics.rest import rest_on_ground
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire

FloatArray = NDArray[np.float64]

WIRES = {1.2: Wire.from_diameter(2.5), 1.5: Wire.from_diameter(2.0)}
MARKS = np.array([0.01, 0.05, 0.15, 0.6])
ROWS = 120


def rows(seed: int, *, gap: bool = False) -> Supports:
    """Rows of 10 to 200 m, a place every half metre: waves of some decimetres, hollows and crests, clods."""
    draw = np.random.default_rng(seed)
    x, z, row = [], [], []
    for number in range(ROWS):
        at = 0.5 * np.arange(draw.integers(20, 400))
        waves = sum(draw.uniform(0.02, 0.6) * np.sin(at / draw.uniform(4.0, 40.0) + draw.uniform(0, 6)) for _ in "ab")
        bowl = draw.uniform(-2e-4, 2e-4) * (at - at[-1] / 2.0) ** 2
        ground = 300.0 + draw.uniform(-0.3, 0.3) * at + waves + bowl + draw.normal(0.0, 0.01, len(at))
        if gap and number % 7 == 0:
            ground[len(at) // 2] = np.nan
        x.append(at)
        z.append(ground)
        row.append(np.full(len(at), number))
    return Supports(np.concatenate(x), np.concatenate(z), np.concatenate(row))


def lengths(ground: Supports, height_m: float, draw: np.random.Generator) -> FloatArray:
    """Wire strung over posts every 6 m, at 100 to 600 N."""
    wire, found = WIRES[height_m], []
    for first, last in zip(ground.rows.first, ground.rows.last, strict=True):
        posts = np.unique(np.append(np.arange(first, last, 12), last))
        path = np.hypot(np.diff(ground.x_m[posts]), np.diff(np.nan_to_num(ground.z_m[posts], nan=300.0))).sum()
        found.append(path / (1.0 + draw.uniform(100.0, 600.0) / float(wire.axial_stiffness_n)))
    return np.array(found)


def exact(ground: Supports, freed: Freed, height_m: float, tolerance_m: float, marks: FloatArray) -> NDArray[np.int64]:
    """The same by the slack itself; -1 where there is none."""
    ends = (freed.height_m, freed.height_m)
    hung = rest_on_ground(ground, freed.wire, ends, freed.unstretched_m, freed.give)
    down = clear_along(ground, hung, height_m + tolerance_m).share >= freed.share
    needed, pull = length_to_drop(ground, freed.wire, ends, height_m, freed.share)
    slack = needed - freed.give.at(np.where(np.isfinite(pull), pull, freed.give.from_n)) - freed.unstretched_m
    passed = np.where(down, 0, np.searchsorted(marks, slack))
    return np.where(hung.solved & ~np.isnan(slack), passed, -1)


@pytest.mark.parametrize(
    ("seed", "height_m", "tolerance_m", "give_m_per_n"),
    [(1, 0.5, 0.05, 0.0), (2, 0.5, 0.0, 2e-5), (3, 0.3, 0.2, 1e-6), (4, 1.1, 0.05, 1e-5)],
)
def test_marks_are_those_of_the_slack_itself(
    seed: int, height_m: float, tolerance_m: float, give_m_per_n: float
) -> None:
    ground, draw = rows(seed), np.random.default_rng(seed)
    wires = [
        Freed(
            wire,
            high,
            lengths(ground, high, draw),
            Give(np.full(ROWS, give_m_per_n), np.full(ROWS, 300.0)),
            level_share(high, height_m),
        )
        for high, wire in WIRES.items()
    ]
    passed = marks_passed(ground, wires, height_m, tolerance_m, MARKS)
    expected = np.stack([exact(ground, one, height_m, tolerance_m, MARKS) for one in wires])
    decided = passed >= 0
    assert decided.mean() > 0.99
    np.testing.assert_array_equal(passed[decided], expected[decided])
    assert len(np.unique(expected)) >= 3  # the rows tell the marks apart


def test_rows_that_cannot_be_solved_are_not_decided_and_change_nothing() -> None:
    ground, draw = rows(5, gap=True), np.random.default_rng(5)
    length = lengths(ground, 1.2, draw)
    length[3] = np.nan
    freed = Freed(WIRES[1.2], 1.2, length, rigid(ROWS), level_share(1.2, 0.5))
    passed = marks_passed(ground, [freed], 0.5, 0.05, MARKS)[0]
    lost = ground.gaps | np.isnan(length)
    assert (passed[lost] == -1).all()
    np.testing.assert_array_equal(passed[~lost], exact(ground, freed, 0.5, 0.05, MARKS)[~lost])


def test_a_wire_within_a_hair_of_a_mark_is_left_undecided_or_right() -> None:
    ground, draw = rows(6), np.random.default_rng(6)
    freed = Freed(WIRES[1.2], 1.2, lengths(ground, 1.2, draw), rigid(ROWS), level_share(1.2, 0.5))
    needed, _ = length_to_drop(ground, freed.wire, (1.2, 1.2), 0.5, freed.share)
    slack = needed - freed.unstretched_m
    for row in np.flatnonzero((slack > 0.02) & (slack < 0.5))[:12].tolist():
        for beside in (-1e-4, -1e-6, 1e-6, 1e-4):
            mark = np.array([slack[row] + beside])
            found = int(marks_passed(ground, [freed], 0.5, 0.0, mark)[0, row])
            assert found == int(beside < 0.0) or (found == -1 and abs(beside) < 1e-5)


def test_a_wire_longer_than_the_ground_lies_on_it() -> None:
    ground = rows(7)
    freed = Freed(WIRES[1.2], 1.2, 2.0 * lengths(ground, 1.2, np.random.default_rng(7)), rigid(ROWS), 1.0)
    assert not marks_passed(ground, [freed], 0.5, 0.0, MARKS).any()
