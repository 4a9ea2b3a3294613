"""Wires let down on small ground, against a solver of our own and a search through every pair of ground points."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.spatial import ConvexHull
from wirerun.findings import Findings
from wirerun.model.layout import Posts
from wirerun.model.wires import Drop
from wirerun.settings import Config
from wirerun.stages.wires.let_down import let_down

FloatArray = NDArray[np.float64]

# 2.5 mm steel, 7850 kg/m3 and 200 GPa, strung at 300 N at 1.2 m.
WEIGHT = 7850.0 * 9.80665 * np.pi * 0.0025**2 / 4.0
STIFFNESS = 200e9 * np.pi * 0.0025**2 / 4.0
# Spans of 5.4 m where 6 m are allowed: no ground point but the middle is at a round distance from it.
HEIGHT_M, SPAN_M, REACH_M, STEPS = 1.2, 5.4, 6.0, 12
STEP_M = SPAN_M / STEPS
EXACT: dict[str, Any] = {"states": {"drop_tolerance_m": 0.0}, "adjusters": {"least_take_up_mm": 0.0}}


def config(**sections: Any) -> Config:  # noqa: ANN401 - sections of the config
    return Config.model_validate(
        {
            "name": "x",
            "block": {"boundary": "b"},
            "elevation": {"raster": "r"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "posts": {"max_span_m": REACH_M},
            "wires": [{"id": "lower", "kind": "foliage", "height_m": HEIGHT_M}],
            **sections,
        }
    )


def strung(ground: FloatArray) -> float:
    """Unstretched length of a row's wire, straight from post to post at 300 N."""
    posts = ground[::STEPS]
    return float(np.hypot(SPAN_M, np.diff(posts)).sum() / (1.0 + 300.0 / STIFFNESS))


@pytest.fixture
def told(stand: Callable[..., Posts]) -> Callable[..., tuple[Drop, Findings]]:
    """What the stage says of rows whose ground is given every 0.45 m, with posts every 5.4 m."""

    def tell(grounds: list[FloatArray], **sections: Any) -> tuple[Drop, Findings]:  # noqa: ANN401
        posts = stand(*[ground[::STEPS] for ground in grounds], span_m=SPAN_M)
        above = []
        for ground in grounds:
            at = ground[::STEPS]
            between = np.stack([ground[start : start + STEPS + 1] for start in range(0, len(ground) - 1, STEPS)])
            above.append(between - np.linspace(at[:-1], at[1:], STEPS + 1, axis=1))
        cut, notes = np.array([[strung(ground) for ground in grounds]]), Findings("B01")
        return let_down(posts, np.concatenate(above), cut, config(**sections), notes)[1], notes

    return tell


def alone(drop: Drop) -> list[bool]:
    """Which rows' wires drop by themselves."""
    return list(drop.take_up_mm[0] == 0.0)


def stations(ground: FloatArray) -> FloatArray:
    half = (len(ground) - 1) // 2
    return STEP_M * np.arange(-half, half + 1, dtype=np.float64)


def lying(ground: FloatArray, length_m: float) -> FloatArray:
    """Height above the ground of a freed wire at each ground point, by Qhull and a search for the pull.

    The obstacle problem of a string: with w x^2/(2 H) taken off ground and ends, the wire is the upper hull. Its length
    is summed up over pieces of 2.5 cm, each stretched by its own tension.
    """
    x, bears = stations(ground), ground.copy()
    bears[[0, -1]] += HEIGHT_M
    chord = float(np.hypot(x[-1] - x[0], bears[-1] - bears[0]))
    weight = WEIGHT * chord / (x[-1] - x[0])
    fine = np.linspace(x[0], x[-1], 20 * (len(x) - 1) + 1)

    def wire(pull: float, at: FloatArray) -> FloatArray:
        sag = weight / (2.0 * pull)
        lowered = bears - sag * x**2
        corner = np.sort(ConvexHull(np.c_[x, lowered]).vertices)
        line = np.interp(x[corner], x[[0, -1]], lowered[[0, -1]])
        corner = corner[lowered[corner] >= line - 1e-12]
        hung: FloatArray = np.interp(at, x[corner], lowered[corner]) + sag * at**2
        return hung

    def too_long(pull: float) -> float:
        pieces = np.hypot(np.diff(fine), np.diff(wire(pull, fine)))
        return float((pieces / (1.0 + pull * pieces / np.diff(fine) / STIFFNESS)).sum() - length_m)

    pull = float(brentq(too_long, 1.0, 1e5, xtol=1e-9))
    return wire(pull, x) - ground


def straddled(ground: FloatArray) -> float:
    """Greatest height over the middle of any line between two places on the ground, one within 6 m to each side."""
    x = stations(ground)
    places = {0.0, -REACH_M, REACH_M, *x[1:-1][np.abs(x[1:-1]) < REACH_M].tolist()}
    spots = [(at, float(np.interp(at, x, ground))) for at in places if abs(at) < x[-1]]
    lines = [(low * b - high * a) / (b - a) if b > a else low for a, low in spots for b, high in spots if a <= 0.0 <= b]
    return max(lines) - float(ground[len(ground) // 2])


def touches(ground: FloatArray, above: FloatArray) -> bool:
    """Whether the wire lies on the ground somewhere within 6 m to the left of the middle, and to the right."""
    x, inner = stations(ground), np.arange(len(ground)) % (len(ground) - 1) > 0
    sides = ((x <= 0.0) & (x >= -REACH_M), (x >= 0.0) & (x <= REACH_M))
    return all(bool((above[side & inner] < 1e-9).any()) for side in sides)


def rut(left: int, right: int, lip_m: float = 0.1) -> FloatArray:
    """Level ground, 162 m, with a sharp lip so many ground points to the left of the middle, and one to the right."""
    ground = np.full(30 * STEPS + 1, 300.0)
    ground[[15 * STEPS - left, 15 * STEPS + right]] += lip_m
    return ground


def rough(seed: int) -> FloatArray:
    """Waves of some decimetres under clods of some centimetres, 11 to 205 m."""
    draw = np.random.default_rng(seed)
    x = STEP_M * np.arange(STEPS * 2 * draw.integers(1, 20) + 1)
    waves = sum(draw.uniform(0.05, 0.3) * np.sin(x / draw.uniform(4, 25) + draw.uniform(0, 6)) for _ in range(3))
    return np.asarray(300.0 + draw.uniform(-0.2, 0.2) * x + waves + draw.normal(0.0, 0.03, len(x)))


@pytest.fixture(scope="module")
def roughs() -> list[tuple[FloatArray, FloatArray, float]]:
    """Rough rows: the ground, how high the freed wire lies over it, and the height at which it is down."""
    grounds = [rough(seed) for seed in range(80)]
    return [(ground, lying(ground, strung(ground)), straddled(ground)) for ground in grounds]


@pytest.mark.parametrize(("left", "right"), [(1, 1), (2, 1), (3, 2), (5, 9), (13, 13)])
def test_a_wire_on_the_lips_of_a_rut_is_down_wherever_the_lips_are(
    told: Callable[..., tuple[Drop, Findings]], left: int, right: int
) -> None:
    """162 m are long enough to drop by themselves; between the lips the wire hangs over the middle all the same."""
    ground = rut(left, right)
    above = lying(ground, strung(ground))
    assert touches(ground, above)
    assert above[len(ground) // 2] > 0.07
    drop, findings = told([ground])
    assert alone(drop) == [True]
    assert drop.take_up_mm[0].tolist() == [0.0]
    assert drop.middle_m[0] == pytest.approx(above[len(ground) // 2], abs=1e-4)
    assert "drops by itself in 1 of 1 rows; on level" in findings[0].message


def test_a_lip_further_than_a_span_away_does_not_count(told: Callable[..., tuple[Drop, Findings]]) -> None:
    """14 points are 6.3 m: a wire from there to the other lip hangs over the middle."""
    drop, _ = told([rut(14, 2), rut(13, 2)], **EXACT)
    assert alone(drop) == [False, True]


def test_the_ground_at_the_feet_of_the_end_posts_does_not_bear_the_wire(
    told: Callable[..., tuple[Drop, Findings]],
) -> None:
    """Row of two spans over a hump at each end post: the wire hangs there at its own height, not on the hump."""
    ground = np.full(2 * STEPS + 1, 300.0)
    ground[[0, -1]] += 0.5
    drop, _ = told([ground], **EXACT)
    let_out = strung(ground) + float(drop.take_up_mm[0, 0]) / 1000.0
    assert lying(ground, let_out)[STEPS] == pytest.approx(0.0, abs=2e-3)


def test_a_wire_that_touches_to_both_sides_is_down(
    told: Callable[..., tuple[Drop, Findings]], roughs: list[tuple[FloatArray, FloatArray, float]]
) -> None:
    drop, _ = told([ground for ground, _, _ in roughs], **EXACT)
    down = np.array(alone(drop))
    lies = np.array([touches(ground, above) for ground, above, _ in roughs])
    assert 10 < lies.sum() < 70
    assert down[lies].all()
    # And no other is, but one that hangs lower than any line between two places on the ground.
    middle = np.array([above[len(ground) // 2] for ground, above, _ in roughs])
    gap = middle - np.array([height for _, _, height in roughs])
    clear = np.abs(gap) > 1e-4
    assert clear.sum() > 75
    assert (down[clear] == (gap < 0.0)[clear]).all()


def test_let_out_by_its_take_up_a_wire_is_just_down(
    told: Callable[..., tuple[Drop, Findings]], roughs: list[tuple[FloatArray, FloatArray, float]]
) -> None:
    drop, _ = told([ground for ground, _, _ in roughs], **EXACT)
    short = [number for number, take_up in enumerate(drop.take_up_mm[0]) if take_up > 0.0]
    assert len(short) > 15
    for number in short:
        ground, _, height = roughs[number]
        let_out = strung(ground) + drop.take_up_mm[0, number] / 1000.0
        assert lying(ground, let_out)[len(ground) // 2] == pytest.approx(height, abs=2e-3)


# Level ground, 1.2 m, 300 N: this row's wire hangs some 3 cm over the middle, for want of 4 mm.
ALMOST = np.full(22 * STEPS + 1, 300.0)


def test_a_centimetre_is_let_pass_and_an_adjuster_takes_up_all_of_it(
    told: Callable[..., tuple[Drop, Findings]],
) -> None:
    middle = float(lying(ALMOST, strung(ALMOST))[len(ALMOST) // 2])
    assert 0.01 < middle < 0.1
    exact, _ = told([ALMOST], **EXACT)
    for tolerance, down in ((middle - 1e-3, False), (middle + 1e-3, True)):
        sections = {"states": {"drop_tolerance_m": tolerance}, "adjusters": {"least_take_up_mm": 0.0}}
        drop, _ = told([ALMOST], **sections)
        assert alone(drop) == [down]
        assert drop.take_up_mm[0].tolist() == (exact.take_up_mm[0].tolist() if not down else [0.0])


def test_a_take_up_that_is_not_worth_an_adjuster_is_left_and_said(told: Callable[..., tuple[Drop, Findings]]) -> None:
    exact, _ = told([ALMOST], **EXACT)
    lacks = float(exact.take_up_mm[0, 0])
    assert 1.0 < lacks < 10.0
    drop, (finding,) = told([ALMOST, rut(2, 2)])
    assert drop.take_up_mm[0].tolist() == [0.0, 0.0]
    assert alone(drop) == [True, True]
    high = float(drop.middle_m[0, 0])
    assert f"in 2 of 2 rows (1 of them up to {high:.2f} m too high, not worth an adjuster);" in finding.message
    for least, down in ((lacks - 0.1, False), (lacks + 0.1, True)):
        drop, _ = told([ALMOST], adjusters={"least_take_up_mm": least})
        assert alone(drop) == [down]
