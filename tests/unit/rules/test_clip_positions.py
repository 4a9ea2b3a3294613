"""Clip positions by hand, and against a walk through every row, post, wire and height in plain words."""

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from wirerun.arrays import BoolArray
from wirerun.findings import Findings
from wirerun.model.clips import ClipPositions
from wirerun.rules.clip_positions import clip_positions, note_unused
from wirerun.settings import ClipSettings, WireSettings

CLIPS = ClipSettings(lowest_m=0.95, spacing_m=0.25, most=4)
Uses = dict[str, list[float]]


def wire(name: str, height_m: float, kind: str = "foliage", **changes: Any) -> WireSettings:  # noqa: ANN401
    return WireSettings.model_validate({"id": name, "kind": kind, "height_m": height_m, **changes})


FRUITING, LOWER, UPPER = wire("fruiting", 0.9, "fixed"), wire("lower", 1.2), wire("upper", 1.45)


def in_a_row(tops: list[float], wires: list[WireSettings], clips: ClipSettings = CLIPS) -> ClipPositions:
    """Positions in one row whose intermediate posts are so high, between two end posts of 1.9 m."""
    out = np.array([1.9, *tops, 1.9])
    inner = np.array([False, *[True] * len(tops), False])
    return clip_positions(out, clips, wires, np.zeros(len(out), dtype=np.int64), inner)


def heights(places: ClipPositions, mask: BoolArray) -> list[float]:
    return [float(height) for height in places.height_m[mask]]


def used(places: ClipPositions, number: int, post: int = 1) -> list[list[float]]:
    """Heights at which a wire is strung, lifted, and lent a clip."""
    return [heights(places, each[number, post]) for each in (places.strung, places.lifted, places.lent)]


@pytest.mark.parametrize(
    ("top", "lower", "upper"),
    [
        (1.9, [[1.2], [1.45], [1.45]], [[1.45], [1.7], []]),
        (1.7, [[1.2], [1.45], [1.45]], [[1.45], [1.7], []]),
        (1.6, [[1.2], [], []], [[1.45], [], []]),
        (1.3, [[1.2], [], []], [[1.45], [], []]),
    ],
)
def test_the_lower_of_two_wires_goes_into_the_clips_that_the_upper_has_left(
    top: float, lower: list[list[float]], upper: list[list[float]]
) -> None:
    places = in_a_row([top], [FRUITING, LOWER, UPPER])
    assert used(places, 0) == [[0.9], [], []]
    assert used(places, 1) == lower
    assert used(places, 2) == upper


def test_every_wire_has_a_clip_at_its_own_height_and_nothing_is_there_for_none() -> None:
    """A wire at 1.5 m: the position at 1.45 m gives way to it, and 0.95 m serves nobody."""
    places = in_a_row([1.9], [LOWER, wire("upper", 1.5)])
    assert used(places, 0) == [[1.2], [1.5], [1.5]]
    assert used(places, 1) == [[1.5], [1.7], []]
    assert places.unused_m.tolist() == [0.95]
    notes = Findings("B01")
    note_unused(places, notes)
    assert [note.code for note in notes] == ["unused-positions"]
    assert "0.95 m" in notes[0].message


def test_without_intermediate_posts_no_position_is_left_unused() -> None:
    """A row of two end posts has no clips, so none of 0.95 to 1.7 m serves nobody."""
    places = in_a_row([], [FRUITING, LOWER, UPPER])
    assert places.unused_m.tolist() == []


def test_pieces_are_counted_once_for_each_side() -> None:
    """Both wires have two lines: clips at 1.2, 1.45 and 1.7 m on both sides, six in all."""
    places = in_a_row([1.9], [LOWER, UPPER])
    assert places.pieces(np.array([2, 2]))[:, 1].tolist() == [2, 4]
    assert places.serves[:, :, 1].tolist() == [[False, False], [True, False]]
    # The upper wire has one line only: on the other side the lower one lacks a clip at 1.45 m.
    assert places.pieces(np.array([2, 1]))[:, 1].tolist() == [3, 2]


def test_the_order_of_the_wires_does_not_matter() -> None:
    places = in_a_row([1.9], [UPPER, FRUITING, LOWER])
    assert used(places, 0) == [[1.45], [1.7], []]
    assert used(places, 2) == [[1.2], [1.45], [1.45]]


def test_a_stapled_wire_stays_where_it_is_and_no_other_is_lifted_past_it_or_to_it() -> None:
    places = in_a_row([1.9], [wire("lower", 0.95), wire("upper", 1.45, held_by="staple")])
    assert used(places, 0) == [[0.95], [1.2], []]
    assert used(places, 1) == [[1.45], [], []]


def test_two_wires_at_one_height_have_clips_of_their_own() -> None:
    """One each side of the post, say: neither takes the other's clips; both are lifted into the upper's."""
    places = in_a_row([1.9], [wire("left", 1.2), wire("right", 1.2), UPPER])
    assert used(places, 0) == used(places, 1) == [[1.2], [1.45], [1.45]]
    assert places.pieces(np.array([1, 1, 2]))[:, 1].tolist() == [1, 1, 4]
    # The upper has one line: its clip at 1.45 m takes one of the two, and the other side lacks one.
    assert places.pieces(np.array([1, 1, 1]))[:, 1].tolist() == [1, 2, 2]


def test_in_winter_each_side_of_the_post_has_a_clip() -> None:
    """A wire each side at 1.2 m: in winter each hangs in its own, and the upper's two lines in theirs."""
    parked = ClipSettings(winter_m=0.6)
    places = in_a_row([1.9], [wire("left", 1.2), wire("right", 1.2), UPPER], parked)
    assert [heights(places, places.own[number, 1]) for number in range(3)] == [[0.6, 1.2], [0.6, 1.2], [1.45, 1.7]]
    assert places.pieces(np.array([1, 1, 2]))[:, 1].tolist() == [2, 2, 4]
    assert not places.serves[0, 1, 1]
    # The other way round: what hangs lowest has one line, the two above it a side each.
    places = in_a_row([1.9], [LOWER, wire("left", 1.45), wire("right", 1.45)], parked)
    assert places.pieces(np.array([1, 1, 1]))[:, 1].tolist() == [2, 2, 3]


@pytest.mark.parametrize("holder", ["clip", "staple"])
def test_lifts_of_the_config_have_the_last_word(holder: str) -> None:
    moved = wire("lower", 1.2, lifts_m=[1.4, 1.6, 1.8, 1.2, 0.6], held_by=holder)
    places = in_a_row([1.6], [moved, UPPER])
    assert used(places, 0) == [[1.2], [0.6, 1.4, 1.6], []]
    still = in_a_row([1.9], [wire("lower", 1.2, lifts_m=[])])
    assert used(still, 0) == [[1.2], [], []]


def test_a_wire_that_the_config_moves_down_has_a_clip_of_its_own_there() -> None:
    """The upper one goes first, so the lower's clips at 1.20 m are still taken, though it is lifted to 1.70 m."""
    places = in_a_row([1.9], [wire("lower", 1.2, lifts_m=[1.7]), wire("upper", 1.45, lifts_m=[1.2])])
    assert used(places, 0) == [[1.2], [1.7], []]
    assert used(places, 1) == [[1.45], [1.2], []]
    assert places.pieces(np.array([1, 1]))[:, 1].tolist() == [2, 2]


def test_in_winter_all_foliage_wires_hang_in_one_row_of_clips() -> None:
    places = in_a_row([1.9], [FRUITING, LOWER, UPPER], ClipSettings(winter_m=0.6))
    assert [heights(places, places.winter[number, 1]) for number in range(3)] == [[], [0.6], [0.6]]
    assert [heights(places, places.own[number, 1]) for number in range(3)] == [[0.9], [0.6, 1.2], [1.45, 1.7]]
    assert places.pieces(np.array([1, 2, 2]))[:, 1].tolist() == [1, 4, 4]


def test_heights_a_hair_apart_are_one() -> None:
    """0.2 + 7 x 0.1 is not 0.9 to a computer, and a post of 1.2 m has a position at 1.2 m."""
    tenths = ClipSettings(lowest_m=0.2, spacing_m=0.1, most=12)
    places = in_a_row([1.2 - 1e-9], [wire("low", 0.9), wire("high", 1.1000001)], tenths)
    assert used(places, 0) == [[0.9], [1.0, 1.1], [1.1]]
    assert used(places, 1) == [[1.1], [1.2], []]


def test_the_lowest_post_of_a_row_says_how_high_its_wires_are_lifted() -> None:
    """Rows: 1.9 m all along; one post of 1.6 m; end posts of 1.3 m only; no intermediate post at all."""
    tops = [1.9, 1.9, 1.9, 1.9, 1.9, 1.6, 1.9, 1.9, 1.3, 1.9, 1.3, 1.9, 1.9]
    row = np.array([0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 3, 3])
    inner = np.array([0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 0, 0, 0], dtype=bool)
    places = clip_positions(np.array(tops), CLIPS, (LOWER, UPPER), row, inner)
    got = [[heights(places, places.lifted[w, row == r][0]) for w in (0, 1)] for r in range(4)]
    assert got == [[[1.45], [1.7]], [[], []], [[1.45], [1.7]], [[], []]]
    # What no wire of the row is lifted to is not bought for its tall posts either.
    assert heights(places, places.used[1, 6]) == [1.45]


def walk(tops: list[float], clips: ClipSettings, wires: list[WireSettings]) -> list[Uses]:
    """Where each wire of one row is strung, lifted and lent a clip, in whole millimetres, by going through all."""

    def is_moved(one: WireSettings) -> bool:
        return one.kind == "foliage" and one.holder == "clip"

    own = [round(1000 * one.height_m) for one in wires]
    regular = []
    for number in range(clips.most):
        place = round(1000 * (clips.lowest_m + clips.spacing_m * number))
        near = [abs(place - own[w]) for w, one in enumerate(wires) if is_moved(one)]
        if not [gap for gap in near if 0 < gap < 500 * clips.spacing_m]:
            regular.append(place)
    top = min((round(1000 * height) for height in tops), default=0)
    result: list[Uses] = [{"strung": [height], "lifted": [], "lent": []} for height in own]
    for w in sorted(range(len(wires)), key=lambda each: -own[each]):
        one = wires[w]
        if one.kind != "foliage" or not tops:
            continue
        higher = [own[v] for v, other in enumerate(wires) if other.kind == "foliage" and own[v] > own[w]]
        for place in range(top + 1):
            at_it = [v for v in range(len(wires)) if own[v] == place and wires[v].kind == "foliage"]
            gone = all(any(to > place for to in result[v]["lifted"]) for v in at_it if is_moved(wires[v]))
            hosts = [v for v in at_it if is_moved(wires[v])]
            if one.lifts_m is not None:
                goes = place != own[w] and place in [round(1000 * lift) for lift in one.lifts_m]
            else:
                free = place in regular and (not higher or place < min(higher))
                into = bool(higher) and place == min(higher) and len(hosts) == len(at_it) and gone
                goes = is_moved(one) and place > own[w] and (free or into)
            if goes:
                result[w]["lifted"].append(place)
                if hosts and gone and one.holder == "clip":
                    result[w]["lent"].append(place)
    return result


@pytest.mark.parametrize("seed", range(40))
def test_random_wires_have_what_a_plain_walk_says(seed: int) -> None:
    draw = np.random.default_rng(seed)
    lowest, spacing = round(draw.uniform(0.4, 1.0), 2), round(draw.uniform(0.1, 0.4), 2)
    clips = ClipSettings(lowest_m=lowest, spacing_m=spacing, most=int(draw.integers(1, 9)))
    wires = []
    for number in range(draw.integers(1, 6)):
        height = round(float(draw.choice([0.9, 1.2, 1.45, draw.uniform(0.5, 1.8)])), 2)
        changes: dict[str, Any] = {"held_by": str(draw.choice(["clip", "clip", "staple"]))}
        if draw.random() < 0.2:
            changes["lifts_m"] = [round(float(lift), 2) for lift in draw.uniform(0.5, 2.2, draw.integers(0, 4))]
        wires.append(wire(f"w{number}", height, str(draw.choice(["fixed", "foliage", "foliage"])), **changes))
    tops = np.round(draw.uniform(1.0, 2.2, 9), 2)
    ends = np.array([0, 0, 4, 9, 9])  # the second row has four intermediate posts, the third five, the first none
    row = np.repeat(np.arange(4), [2, 6, 7, 2])
    inner = np.ones(len(row), dtype=bool)
    inner[[0, 1, 2, 7, 8, 14, 15, 16]] = False
    out = np.full(len(row), 1.9)
    out[inner] = tops
    places = clip_positions(out, clips, wires, row, inner)
    for number, (start, stop) in enumerate(pairwise(ends)):
        wanted = walk(tops[start:stop].tolist(), clips, wires)
        for post in np.flatnonzero(row == number):
            for each in range(len(wires)):
                got = used(places, each, int(post))
                assert [[round(1000 * h) for h in one] for one in got] == list(wanted[each].values())
