"""Clip positions by hand, and against a walk through every post, wire and height in plain words."""

from typing import Any

import numpy as np
import pytest
from wirerun.rules.clip_positions import ClipPositions, clip_positions
from wirerun.settings import ClipSettings, WireSettings

CLIPS = ClipSettings(lowest_m=0.95, spacing_m=0.25, most=4)


def wire(name: str, height_m: float, kind: str = "foliage", **changes: Any) -> WireSettings:  # noqa: ANN401
    return WireSettings.model_validate({"id": name, "kind": kind, "height_m": height_m, **changes})


FRUITING, LOWER, UPPER = wire("fruiting", 0.9, "fixed"), wire("lower", 1.2), wire("upper", 1.5)


def heights(places: ClipPositions, mask: np.ndarray) -> list[float]:
    return [float(height) for height in places.height_m[mask]]


def held(places: ClipPositions, post: int = 0) -> list[list[float]]:
    return [heights(places, mask[post]) for mask in places.held]


def lifted(places: ClipPositions) -> list[list[float]]:
    """Heights that each wire is lifted to in a row whose intermediate posts are those given, between two end posts."""
    posts = len(places.on_post)
    ends = [0, *range(posts), posts - 1]
    row = ClipPositions(places.height_m, places.on_post[ends], places.regular, places.held[:, ends], places.lifted)
    inner = np.array([False, *[True] * posts, False])
    along = row.lifted_along(np.zeros(posts + 2, dtype=np.int64), inner)
    assert (along == along[:, :1]).all()
    return [heights(places, mask[0]) for mask in along]


@pytest.mark.parametrize(
    ("top", "regular", "lower", "upper", "lifts"),
    [
        (1.9, 4, [0.95, 1.2, 1.45], [1.7], [[1.45], [1.7]]),
        (1.7, 4, [0.95, 1.2, 1.45], [1.7], [[1.45], [1.7]]),
        (1.6, 3, [0.95, 1.2, 1.45], [1.5], [[1.45], []]),
        (1.3, 2, [0.95, 1.2], [1.5], [[], []]),
        (1.0, 1, [0.95], [1.5], [[], []]),
        (0.9, 0, [1.2], [1.5], [[], []]),
    ],
)
def test_two_foliage_wires(
    top: float, regular: int, lower: list[float], upper: list[float], lifts: list[list[float]]
) -> None:
    """What does not fit under the top is there for none; a wire without a place has one at its own height."""
    places = clip_positions(np.array([top]), CLIPS, (FRUITING, LOWER, UPPER))
    assert held(places) == [[0.9], lower, upper]
    assert lifted(places) == [[], *lifts]
    assert (places.on_post & places.regular).sum() == regular


def test_the_order_of_the_wires_does_not_matter() -> None:
    places = clip_positions(np.array([1.9]), CLIPS, (UPPER, FRUITING, LOWER))
    assert held(places) == [[1.7], [0.9], [0.95, 1.2, 1.45]]
    assert lifted(places) == [[1.7], [], [1.45]]


def test_a_stapled_wire_stays_where_it_is_and_no_other_is_lifted_past_it() -> None:
    stapled = wire("upper", 1.5, held_by="staple")
    places = clip_positions(np.array([1.9]), CLIPS, (LOWER, stapled))
    assert held(places) == [[0.95, 1.2, 1.45], [1.5]]
    assert lifted(places) == [[1.45], []]
    places = clip_positions(np.array([1.9]), CLIPS, (wire("lower", 1.2, held_by="staple"), UPPER))
    assert held(places) == [[1.2], [1.7]]
    assert lifted(places) == [[], [1.7]]


def test_two_wires_at_one_height_have_the_same_places() -> None:
    """One each side of the post, say: neither takes the other's positions."""
    places = clip_positions(np.array([1.9]), CLIPS, (wire("left", 1.2), wire("right", 1.2), UPPER))
    assert held(places) == [[0.95, 1.2, 1.45], [0.95, 1.2, 1.45], [1.7]]
    assert lifted(places) == [[1.45], [1.45], [1.7]]


@pytest.mark.parametrize("holder", ["clip", "staple"])
def test_lifts_of_the_config_have_the_last_word(holder: str) -> None:
    moved = wire("lower", 1.2, lifts_m=[1.4, 1.6, 1.8, 1.2, 0.6], held_by=holder)
    places = clip_positions(np.array([1.6]), CLIPS, (moved, UPPER))
    assert held(places)[0] == [0.6, 1.2, 1.4, 1.6]
    assert lifted(places)[0] == [0.6, 1.4, 1.6]
    still = clip_positions(np.array([1.9]), CLIPS, (wire("lower", 1.2, lifts_m=[]),))
    assert held(still) == [[1.2]]
    assert lifted(still) == [[]]


def test_heights_a_hair_apart_are_one() -> None:
    """0.2 + 7 x 0.1 is not 0.9 to a computer, and a post of 1.2 m has a position at 1.2 m."""
    tenths = ClipSettings(lowest_m=0.2, spacing_m=0.1, most=12)
    places = clip_positions(np.array([1.2 - 1e-9]), tenths, (wire("low", 0.9), wire("high", 1.1000001)))
    assert held(places) == [[0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0], [1.1, 1.2]]
    assert lifted(places) == [[1.0], [1.2]]


def test_the_lowest_post_of_a_row_says_how_high_a_wire_is_lifted() -> None:
    """Rows: 1.9 m all along; one post of 1.6 m; end posts of 1.3 m only; no intermediate post at all."""
    tops = [1.9, 1.9, 1.9, 1.9, 1.9, 1.6, 1.9, 1.9, 1.3, 1.9, 1.3, 1.9, 1.9]
    row = np.array([0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 3, 3])
    inner = np.array([0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 0, 0, 0], dtype=bool)
    places = clip_positions(np.array(tops), CLIPS, (LOWER, UPPER))
    along = places.lifted_along(row, inner)
    assert along.shape == (2, 13, len(places.height_m))
    got = [[heights(places, along[w, row == r][0]) for w in (0, 1)] for r in range(4)]
    assert got == [[[1.45], [1.7]], [[1.45], []], [[1.45], [1.7]], [[], []]]
    # On the post itself the position is there all the same.
    assert held(places, 6)[1] == [1.7]
    assert held(places, 5)[1] == [1.5]


def walk(top: float, clips: ClipSettings, wires: list[WireSettings], number: int) -> tuple[list[int], list[int]]:
    """Places of a wire on a post, and those it is lifted to, in whole millimetres."""
    one, posts = wires[number], [round(1000 * (clips.lowest_m + clips.spacing_m * n)) for n in range(clips.most)]
    own = round(1000 * one.height_m)
    others = [round(1000 * other.height_m) for other in wires if other.kind == "foliage"]
    there: list[int] = []
    for place in range(5001):
        if place > round(1000 * top):
            break
        if one.kind == "foliage" and one.lifts_m is not None:
            if place == own or place in [round(1000 * lift) for lift in one.lifts_m]:
                there.append(place)
        elif one.kind == "foliage" and one.held_by != "staple":
            under_next = not [other for other in others if own < other <= place]
            from_own = place >= own or own == min(others)
            if place in posts and under_next and from_own:
                there.append(place)
        elif place == own:
            there.append(place)
    goes = [place for place in there if place != own and (place > own or one.lifts_m is not None)]
    return there or [own], goes


@pytest.mark.parametrize("seed", range(25))
def test_random_wires_have_what_a_plain_walk_says(seed: int) -> None:
    draw = np.random.default_rng(seed)
    lowest, spacing = round(draw.uniform(0.4, 1.0), 2), round(draw.uniform(0.1, 0.4), 2)
    clips = ClipSettings(lowest_m=lowest, spacing_m=spacing, most=int(draw.integers(1, 9)))
    wires = []
    for number in range(draw.integers(1, 6)):
        height = round(float(draw.choice([0.9, 1.2, draw.uniform(0.5, 1.8)])), 2)
        changes: dict[str, Any] = {"held_by": str(draw.choice(["clip", "staple"]))}
        if draw.random() < 0.3:
            changes["lifts_m"] = [round(float(lift), 2) for lift in draw.uniform(0.5, 2.2, draw.integers(0, 4))]
        wires.append(wire(f"w{number}", height, str(draw.choice(["fixed", "foliage", "foliage"])), **changes))
    tops = np.round(draw.uniform(0.5, 2.2, 4), 2)
    places = clip_positions(tops, clips, wires)
    for number in range(len(wires)):
        for post, top in enumerate(tops):
            wanted, goes = walk(float(top), clips, wires, number)
            assert [round(1000 * h) for h in held(places, post)[number]] == wanted
            alone = clip_positions(tops[[post]], clips, wires)
            assert [round(1000 * h) for h in lifted(alone)[number]] == goes
