"""Wires let down on small ground, against a solver of our own that walks the rows."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.spatial import ConvexHull
from wirerun.findings import Findings
from wirerun.model.layout import Posts
from wirerun.model.moved_wires import Drop
from wirerun.settings import Config
from wirerun.stages.wires.end_give import EndGive, end_give
from wirerun.stages.wires.let_down import let_down

FloatArray = NDArray[np.float64]

# 2.5 mm steel, 7850 kg/m3 and 200 GPa, strung at 300 N at 1.2 m.
WEIGHT = 7850.0 * 9.80665 * np.pi * 0.0025**2 / 4.0
STIFFNESS = 200e9 * np.pi * 0.0025**2 / 4.0
HEIGHT_M, SPAN_M, STEPS = 1.2, 5.4, 12
STEP_M = SPAN_M / STEPS
CLEAR_M = 0.5
# Share of the middle 80 % of a level row on which a wire from 1.2 m that touches half-way is at most 0.5 m high:
# 1.2 (1 - 2 s)^2 <= 0.5.
ASKED = np.sqrt(0.5 / 1.2) / 0.8
WARM: dict[str, Any] = {"winter_c": 15.0}
EXACT: dict[str, Any] = {"states": {**WARM, "drop_tolerance_m": 0.0}, "adjusters": {"least_take_up_mm": 0.0}}


def config(**sections: Any) -> Config:  # noqa: ANN401 - sections of the config
    return Config.model_validate(
        {
            "name": "x",
            "block": {"boundary": "b"},
            "elevation": {"raster": "r"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": [{"id": "lower", "kind": "foliage", "height_m": HEIGHT_M}],
            **sections,
        }
    )


def ends(posts: Posts, planned: Config) -> EndGive:
    """How the end posts give way."""
    return end_give(posts, planned.wires, planned.posts)


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
        parked = np.zeros(cut.shape, dtype=bool)
        return let_down(
            posts, np.concatenate(above), cut, ends(posts, config(**sections)), parked, config(**sections), notes
        )[1], notes

    return tell


def alone(drop: Drop) -> list[bool]:
    """Which rows' wires drop by themselves."""
    return list(drop.take_up_mm[0] == 0.0)


def stations(ground: FloatArray) -> FloatArray:
    half = (len(ground) - 1) // 2
    return STEP_M * np.arange(-half, half + 1, dtype=np.float64)


def lying(ground: FloatArray, length_m: float) -> tuple[FloatArray, float, float]:
    """Height of a freed wire above each ground point, share of the middle 80 % below 0.5 m, greatest height there.

    The obstacle problem of a string, by Qhull and a search for the pull: with w x^2/(2 H) taken off ground and ends,
    the wire is the upper hull. Its length is summed up over pieces of 2.5 cm, each stretched by its own tension; the
    middle is walked in steps of a 20 000th of it.
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
    walk = 0.8 * np.linspace(x[0], x[-1], 20_001)
    above = wire(pull, walk) - np.interp(walk, x, ground)
    return wire(pull, x) - ground, float((above <= CLEAR_M).mean()), float(above.max())


def posts_up(ground: FloatArray, above: FloatArray) -> int:
    """Posts in the middle 80 % at which the wire is higher than 0.5 m."""
    x = stations(ground)[::STEPS]
    return int((above[::STEPS] > CLEAR_M)[np.abs(x) <= 0.8 * x[-1] + 1e-6].sum())


def hollow(wide_m: float, deep_m: float, spans: int = 34) -> FloatArray:
    """Level ground, 183.6 m unless told otherwise, with a round hollow in the middle."""
    ground = np.full(spans * STEPS + 1, 300.0)
    x = stations(ground)
    inside = np.abs(x) < wide_m / 2.0
    ground[inside] -= deep_m * np.cos(np.pi * x[inside] / wide_m) ** 2
    return ground


def rough(seed: int) -> FloatArray:
    """Waves of some decimetres under clods of some centimetres, 11 to 205 m."""
    draw = np.random.default_rng(seed)
    x = STEP_M * np.arange(STEPS * 2 * draw.integers(1, 20) + 1)
    waves = sum(draw.uniform(0.05, 0.5) * np.sin(x / draw.uniform(4, 25) + draw.uniform(0, 6)) for _ in range(3))
    return np.asarray(300.0 + draw.uniform(-0.2, 0.2) * x + waves + draw.normal(0.0, 0.03, len(x)))


@pytest.fixture(scope="module")
def roughs() -> list[tuple[FloatArray, FloatArray, float, float]]:
    """Rough rows: the ground, and what `lying` says of the freed wire."""
    grounds = [rough(seed) for seed in range(80)]
    return [(ground, *lying(ground, strung(ground))) for ground in grounds]


def test_a_narrow_hollow_half_way_is_no_reason_for_an_adjuster(told: Callable[..., tuple[Drop, Findings]]) -> None:
    """The wire hangs 0.9 m over 12 m of 183.6 m, and lies to both sides."""
    ground = hollow(12.0, 0.9)
    above, share, greatest = lying(ground, strung(ground))
    assert above[len(ground) // 2] > 0.75
    drop, findings = told([ground], states=WARM)
    assert alone(drop) == [True]
    assert drop.middle_m[0] == pytest.approx(above[len(ground) // 2], abs=1e-3)
    assert drop.freed.clear[0, 0] == pytest.approx(share, abs=1e-3)
    assert drop.freed.greatest_m[0, 0] == pytest.approx(greatest, abs=2e-3)
    assert drop.freed.posts_up[0, 0] == posts_up(ground, above)
    assert drop.post_m[0] == pytest.approx(above[::STEPS], abs=2e-3)
    assert "drops by itself in 1 of 1 rows; on level" in findings[0].message
    assert "stays up" not in findings[0].message


def test_how_high_a_wire_stays_over_a_gully_is_told(told: Callable[..., tuple[Drop, Findings]]) -> None:
    """A gully 2.4 m deep: the wire is out of the way along the row, and higher over the bottom than it was strung."""
    ground = hollow(8.0, 2.4)
    _, share, greatest = lying(ground, strung(ground))
    assert share > ASKED
    assert greatest > HEIGHT_M
    _, (finding,) = told([ground, hollow(12.0, 0.9)], states=WARM)
    assert f"; over hollows it stays up to {greatest:.1f} m high in 1 row; on level" in finding.message


@pytest.mark.parametrize("winter_c", [15.0, -15.0])
def test_the_length_from_which_level_rows_drop_is_told(
    told: Callable[..., tuple[Drop, Findings]], winter_c: float
) -> None:
    """Just that long, a level row touches half-way; in the cold it is a longer one. At -15 C 300 N are 653 N."""
    _, (finding,) = told([hollow(12.0, 0.9)], states={"winter_c": winter_c})
    said = float(finding.message.rpartition("rows of about ")[2].split(" ")[0])
    spans = np.array([-1.0, 1.0]) + round(said / SPAN_M)
    clear = [
        told([np.full(round(count) * STEPS + 1, 300.0)], states={"winter_c": winter_c})[0].middle_m[0, 0]
        for count in spans
    ]
    assert clear[0] > 1e-3
    assert clear[1] == pytest.approx(0.0, abs=1e-6)


def test_a_wire_that_lies_half_way_on_a_crest_alone_is_not_down(told: Callable[..., tuple[Drop, Findings]]) -> None:
    """Judged at mid-row it would be; over the hollows to both sides it hangs."""
    x = stations(np.zeros(14 * STEPS + 1))
    ground = 300.0 + 0.75 * np.cos(4.0 * np.pi * x / (x[-1] - x[0]))
    above, share, _ = lying(ground, strung(ground))
    assert above[len(ground) // 2] == pytest.approx(0.0, abs=1e-9)
    assert share < 0.6
    drop, _ = told([ground])
    assert alone(drop) == [False]
    assert drop.take_up_mm[0, 0] > 50.0


def test_rough_rows_are_judged_as_one_finds_them_by_walking(
    told: Callable[..., tuple[Drop, Findings]], roughs: list[tuple[FloatArray, FloatArray, float, float]]
) -> None:
    drop, _ = told([ground for ground, *_ in roughs], **EXACT)
    share = np.array([share for *_, share, _ in roughs])
    clear = np.abs(share - ASKED) > 1e-3
    assert clear.sum() > 75
    assert 15 < (share >= ASKED).sum() < 65
    assert (np.array(alone(drop)) == (share >= ASKED))[clear].all()
    np.testing.assert_allclose(drop.freed.clear[0], share, atol=5e-4)
    np.testing.assert_allclose(drop.freed.greatest_m[0], [greatest for *_, greatest in roughs], atol=1e-3)


def test_let_out_by_its_take_up_a_wire_is_just_down(
    told: Callable[..., tuple[Drop, Findings]], roughs: list[tuple[FloatArray, FloatArray, float, float]]
) -> None:
    drop, _ = told([ground for ground, *_ in roughs], **EXACT)
    short = [number for number, take_up in enumerate(drop.take_up_mm[0]) if take_up > 0.0]
    assert len(short) > 15
    for number in short:
        ground = roughs[number][0]
        let_out = strung(ground) + drop.take_up_mm[0, number] / 1000.0
        above, share, greatest = lying(ground, let_out)
        assert share == pytest.approx(ASKED, abs=2e-3)
        assert drop.let_out.clear[0, number] == pytest.approx(ASKED, abs=1e-6)
        assert drop.let_out.greatest_m[0, number] == pytest.approx(greatest, abs=3e-3)
        assert drop.let_out.posts_up[0, number] == posts_up(ground, above)
    kept = np.setdiff1d(np.arange(len(roughs)), short)
    np.testing.assert_allclose(drop.let_out.clear[0, kept], drop.freed.clear[0, kept], atol=1e-9)


def test_the_ground_at_the_feet_of_the_end_posts_does_not_bear_the_wire(
    told: Callable[..., tuple[Drop, Findings]],
) -> None:
    """Row of two spans over a hump at each end post: the wire hangs there at its own height, not on the hump."""
    ground = np.full(2 * STEPS + 1, 300.0)
    ground[[0, -1]] += 0.5
    drop, _ = told([ground], **EXACT)
    let_out = strung(ground) + float(drop.take_up_mm[0, 0]) / 1000.0
    assert lying(ground, let_out)[1] == pytest.approx(ASKED, abs=2e-3)


# Level ground, 1.2 m, 300 N: this row's wire hangs some 3 cm over the middle, for want of 4 mm.
ALMOST = np.full(22 * STEPS + 1, 300.0)


@pytest.mark.parametrize("length_m", [27.0, 59.4, 108.0])
def test_in_winter_a_level_row_lacks_what_the_cold_has_drawn_in(
    told: Callable[..., tuple[Drop, Findings]], length_m: float
) -> None:
    """12e-6 a kelvin: 10 K colder, a row of 100 m lacks 12 mm more. Warmed by as much it lacks so much less."""
    ground = np.full(round(length_m / STEP_M) + 1, 300.0)
    at = {
        celsius: told([ground], states={"winter_c": celsius}, adjusters={"least_take_up_mm": 0.0})[0].take_up_mm[0, 0]
        for celsius in (5.0, 15.0, 20.0)
    }
    assert at[5.0] - at[15.0] == pytest.approx(12e-3 * length_m * 10.0, rel=2e-3)
    assert at[20.0] - at[15.0] == pytest.approx(-12e-3 * length_m * 5.0, rel=2e-3)


def test_a_centimetre_is_let_pass_and_an_adjuster_takes_up_all_of_it(
    told: Callable[..., tuple[Drop, Findings]],
) -> None:
    """On level ground 1.2 - 4 f s (1 - s) is so high where the share that is asked begins."""
    above = lying(ALMOST, strung(ALMOST))[0]
    sag = HEIGHT_M - above[len(ALMOST) // 2]
    edge = HEIGHT_M - sag * (1.0 - (0.8 * ASKED) ** 2) - CLEAR_M
    assert 0.005 < edge < 0.03
    exact, _ = told([ALMOST], **EXACT)
    for tolerance, down in ((edge - 1e-4, False), (edge + 1e-4, True)):
        sections = {"states": {**WARM, "drop_tolerance_m": tolerance}, "adjusters": {"least_take_up_mm": 0.0}}
        drop, _ = told([ALMOST], **sections)
        assert alone(drop) == [down]
        assert drop.take_up_mm[0].tolist() == (exact.take_up_mm[0].tolist() if not down else [0.0])
        assert drop.lacks_mm[0].tolist() == [0.0]


def test_a_take_up_that_is_not_worth_an_adjuster_is_left_and_said(told: Callable[..., tuple[Drop, Findings]]) -> None:
    exact, _ = told([ALMOST], **EXACT)
    lacks = float(exact.take_up_mm[0, 0])
    assert 1.0 < lacks < 10.0
    drop, (finding,) = told([ALMOST, hollow(3.0, 0.2)], states=WARM | {"drop_tolerance_m": 0.0})
    assert drop.take_up_mm[0].tolist() == [0.0, 0.0]
    assert drop.lacks_mm[0] == pytest.approx([lacks, 0.0], abs=1e-6)
    assert f"in 2 of 2 rows (1 of them for want of up to {lacks:.0f} mm, not worth an adjuster);" in finding.message
    for least, down in ((lacks - 0.1, False), (lacks + 0.1, True)):
        drop, _ = told([ALMOST], states=EXACT["states"], adjusters={"least_take_up_mm": least})
        assert alone(drop) == [down]


def test_nothing_is_asked_of_a_wire_that_is_parked(stand: Callable[..., Posts]) -> None:
    posts, notes = stand([300.0] * 6, [300.0] * 6, span_m=SPAN_M), Findings("B01")
    cut = np.full((1, 2), strung(np.full(5 * STEPS + 1, 300.0)))
    parked = np.array([[True, False]])
    drop = let_down(posts, np.zeros((10, STEPS + 1)), cut, ends(posts, config()), parked, config(), notes)[1]
    assert drop.take_up_mm[0, 0] == 0.0
    assert drop.take_up_mm[0, 1] > 100.0
    assert "in 0 of 1 rows" in notes[0].message


def test_posts_that_give_let_a_short_row_down_less_and_a_long_one_more(
    told: Callable[..., tuple[Drop, Findings]],
) -> None:
    """A short row lies at a lower pull than it was strung to, so that the posts go back and draw the wire up.

    One line, 20 mm/kN at each end; pull of a level parabola w L^2/(8 * 1.2 m), 300 N as strung.
    """
    for length_m in (27.0, 59.4, 108.0):
        ground = np.full(round(length_m / STEP_M) + 1, 300.0)
        stands, _ = told([ground], **EXACT)
        gives, _ = told([ground], **EXACT, posts={"end_give_mm_per_kn": 20.0})
        pull = WEIGHT * length_m**2 / (8.0 * HEIGHT_M)
        more = gives.take_up_mm[0, 0] - stands.take_up_mm[0, 0]
        assert more == pytest.approx(2.0 * 20e-3 * (300.0 - pull), rel=0.05)
        assert gives.let_out.clear[0, 0] == pytest.approx(ASKED, abs=1e-4)
