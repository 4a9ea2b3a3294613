"""The strip of a row: its ground and posts from the side, and under it which posts get two-way clips, which way up."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from wirerun.write.cards.facts import RowFacts
from wirerun.write.cards.lanes import Lane, lanes
from wirerun.write.cards.letters import SMALL, width
from wirerun.write.cards.numbers import compass, post_number, run_ends, thinned
from wirerun.write.cards.pen import GREY, LEFT, PALE, WIDTH, Pen
from wirerun.write.cards.sheets import Block
from wirerun.write.cards.symbols import (
    END_HIGH,
    draw_doubt,
    draw_end_post,
    draw_post,
    draw_seat,
    draw_section,
    draw_unknown_post,
)

_GUTTER: Final = 24.0  # for the names of the wires, left of the strip
_STRIP: Final = WIDTH - _GUTTER - 12.0
_MOST_MM_PER_M: Final = 4.0  # so that short rows are seen to be short
_STRETCHES: Final = (0.1, 0.2, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 10.0)
_NUMBERS_HIGH: Final = 3.6
_LANE_HIGH: Final = 5.2
_STEPS: Final = (1, 2, 5, 10, 20, 50, 100)


@dataclass(frozen=True, slots=True)
class _Side:
    """The row from the side: where its posts stand on paper, right of the gutter and below the top of the heights."""

    numbers: list[int]
    x: list[float]
    drop: list[float]  # NaN where the height is not known
    stretch: float
    relief: float


def _from_the_side(facts: RowFacts, most: float) -> _Side:
    station = np.array([post["station_m"] for post in facts.posts], dtype=float)
    ground = np.array([post["ground_m"] for post in facts.posts], dtype=float)
    length = max(float(np.ptp(station)), 1e-6) if len(station) else 1.0
    scale = min(_STRIP / length, _MOST_MM_PER_M)
    known = ground[np.isfinite(ground)]
    top = float(known.max()) if known.size else 0.0
    rise = (top - float(known.min())) * scale if known.size else 0.0
    stretch = max((s for s in _STRETCHES if s * rise <= most), default=most / max(rise, 1e-6))
    drop = (top - ground) * scale * stretch
    return _Side(
        numbers=[post_number(post["post_id"]) for post in facts.posts],
        x=(LEFT + _GUTTER + (station - station.min(initial=np.inf)) * scale).tolist() if len(station) else [],
        drop=drop.tolist(),
        stretch=stretch,
        relief=rise * stretch,
    )


def strip_block(facts: RowFacts, most: float) -> Block:
    """Return the strip of a row as a block, its relief at most so high [mm]; wires without a sign have no line."""
    side, rows = _from_the_side(facts, most), [lane for lane in lanes(facts) if lane.seats or lane.doubts]
    two_way = {post for lane in rows for post in lane.seats}
    profile_high = max(END_HIGH + side.relief + 1.0, 8.0)
    bracket_high = 2.6 if facts.sections else 0.0
    height = profile_high + _NUMBERS_HIGH + bracket_high + _LANE_HIGH * len(rows) + 0.5

    def draw(pen: Pen, top: float) -> None:
        if not side.x:
            return
        ground = top + profile_high - 1.0 - side.relief
        _draw_profile(pen, side, ground, two_way)
        _draw_ends(pen, facts, side, top + profile_high)
        _draw_numbers(pen, side, top + profile_high, two_way)
        y = top + profile_high + _NUMBERS_HIGH
        _draw_sections(pen, facts, side, y + 0.4)
        y += bracket_high
        for lane in rows:
            _draw_lane(pen, side, lane, y + _LANE_HIGH / 2.0)
            y += _LANE_HIGH

    return Block(height, draw)


def _draw_profile(pen: Pen, side: _Side, ground: float, two_way: set[int]) -> None:
    """Draw the ground, and the posts on it; posts without a height stand at the foot of the strip, dashed."""
    places = list(zip(side.x, side.drop, strict=True))
    pieces = [((x, ground + d), (x2, ground + d2)) for (x, d), (x2, d2) in pairwise(places) if np.isfinite(d + d2)]
    foot = ground + side.relief
    pen.lines(
        [((x, y), (x2, y2), (x2, foot + 1.0), (x, foot + 1.0)) for (x, y), (x2, y2) in pieces],
        stroke=0.0,
        fill=0.9,
        close=True,
    )
    pen.lines(pieces, stroke=0.35)
    last = len(places) - 1
    for place, ((x, drop), post) in enumerate(zip(places, side.numbers, strict=True)):
        if not np.isfinite(drop):
            draw_unknown_post(pen, x, foot)
        elif place in {0, last}:
            draw_end_post(pen, x, ground + drop)
        else:
            draw_post(pen, x, ground + drop, two_way=post in two_way)


def _draw_ends(pen: Pen, facts: RowFacts, side: _Side, foot: float) -> None:
    """Draw which end lies where, its height, and how much heights are stretched."""
    bearing = float(facts.row["bearing_deg"])
    known = bool(np.isfinite(side.drop).any())
    stretch = f"heights \N{MULTIPLICATION SIGN} {side.stretch:.2g}" if known else "no heights"
    ground = facts.units.ground
    start, end = (ground.bare(facts.posts[place]["ground_m"]) for place in (0, -1))
    pen.text(LEFT, foot - 3.8, f"{compass(bearing + 180.0)} {start}", SMALL, bold=True, room=_GUTTER - 2.0)
    pen.text(LEFT, foot - 0.2, stretch, SMALL, room=_GUTTER - 2.0)
    pen.text(side.x[-1] + 1.6, foot - 3.8, compass(bearing), SMALL, bold=True, room=10.4)
    pen.text(side.x[-1] + 1.6, foot - 0.2, end, SMALL, room=10.4)


def _draw_numbers(pen: Pen, side: _Side, top: float, two_way: set[int]) -> None:
    """Draw post numbers, thinned; the ends and where two-way clips begin and end come first."""
    labels = [str(post) for post in side.numbers]
    bold = [post in two_way for post in side.numbers]
    widths = [width(label, SMALL, bold=thick) for label, thick in zip(labels, bold, strict=True)]
    last = len(labels) - 1
    for step in _STEPS:
        steps = [place for place, post in enumerate(side.numbers) if post % step == 0]
        if len(thinned(side.x, widths, steps, 0.8)) == len(steps):
            break
    for place in thinned(side.x, widths, [0, last, *run_ends(bold), *steps], 0.8):
        pen.text(side.x[place], top + 3.0, labels[place], SMALL, bold=bold[place], align="middle")


def _draw_sections(pen: Pen, facts: RowFacts, side: _Side, y: float) -> None:
    """Draw a bracket over each undulating section, half a span beyond its posts."""
    place = {post["post_id"]: number for number, post in enumerate(facts.posts)}
    for section in facts.sections:
        first, last = place[section["from_post"]], place[section["to_post"]]
        start = (side.x[first] + side.x[max(first - 1, 0)]) / 2.0
        end = (side.x[last] + side.x[min(last + 1, len(side.x) - 1)]) / 2.0
        inset = min(0.3, 0.1 * (end - start))
        draw_section(pen, start + inset, end - inset, y)


def _draw_lane(pen: Pen, side: _Side, lane: Lane, y: float) -> None:
    """Draw the clips of one or more wires: a thin line for the wire, a symbol at each post that matters."""
    pen.text(LEFT, y + 1.0, ", ".join(lane.wires), SMALL, bold=True, room=_GUTTER - 2.0)
    pen.line((side.x[0], y), (side.x[-1], y), stroke=0.15, grey=PALE)
    pitch = min((b - a for a, b in pairwise(side.x)), default=5.0)
    size = min(max(0.8 * pitch, 1.4), 4.0)  # in very long rows signs may run together; the list has their numbers
    for x, post in zip(side.x, side.numbers, strict=True):
        seat = lane.seats.get(post)
        if seat:
            draw_seat(pen, x, y, seat, size)
        elif post in lane.doubts and pitch > 2.0:
            draw_doubt(pen, x, y)
        elif post in lane.doubts:
            pen.line((x, y - 1.2), (x, y + 1.2), stroke=0.2, grey=GREY)
