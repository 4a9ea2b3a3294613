"""The card of a row: its figures, its strip, which clips go where, where its posts stand, and its wires."""

from dataclasses import dataclass
from typing import Any, Final

from wirerun.units import Units, fixed
from wirerun.write.cards.facts import Lines, RowFacts, ZoneFacts
from wirerun.write.cards.flow import flow
from wirerun.write.cards.lanes import clip_words, fixing_words
from wirerun.write.cards.letters import BIG, BODY, MAIN, SMALL, clean, leading, width, wrap
from wirerun.write.cards.numbers import post_number, post_ranges, span_posts
from wirerun.write.cards.pen import LEFT, PALE, RIGHT, WIDTH, Pen
from wirerun.write.cards.row_strip import strip_block
from wirerun.write.cards.setting import (
    place_words,
    shift_words,
    stand_words,
    station_lines,
    station_words,
    unlike_words,
)
from wirerun.write.cards.sheets import Block, Group, text_block

_TIMES: Final = "\N{MULTIPLICATION SIGN}"
#: Left edges of the columns of the wires' table, and what stands over them.
_COLUMNS: Final = (
    (LEFT, "wire"),
    (LEFT + 21.0, "run out, {length}"),
    (LEFT + 44.0, "coil, {length} run off"),
    (LEFT + 102.0, "strain: pull"),
    (LEFT + 124.0, "adjuster"),
)
_ROOMS: Final = tuple(
    right - left - 1.0
    for (left, _), right in zip(_COLUMNS, (*(left for left, _ in _COLUMNS[1:]), RIGHT + 1.0), strict=True)
)
_TIGHT: Final = 0.95  # of the usual leading
_DEEP: Final = 4  # lines of a cell that stay together


@dataclass(frozen=True, slots=True)
class Style:
    """How much room a row's card takes: the sizes of its name and words, the height of its strip, heads, the gap after.

    Without heads all words follow each other. Heights and gaps in mm, sizes in points.
    """

    name: float
    size: float
    profile_high: float
    heads: bool
    gap: float


#: From the roomiest on; a zone takes the first in which its rows fit on one page.
STYLES: Final = (
    Style(BIG, MAIN, 13.0, heads=True, gap=3.0),
    Style(BIG, BODY, 13.0, heads=True, gap=2.0),
    Style(MAIN, BODY, 6.0, heads=False, gap=0.8),
    Style(MAIN, BODY, 2.5, heads=False, gap=0.5),
)


def row_group(facts: RowFacts, zone: ZoneFacts, style: Style) -> Group:
    """Return the card of a row."""
    size = style.size
    blocks = [
        _head(facts, style.name),
        strip_block(facts, style.profile_high),
        *_told(facts, zone, style),
        *([_table_head(facts.units)] if style.heads else []),
        *(block for wire in facts.wires for block in _wire_lines(facts, wire, size)),
        *_strained_before(facts, size),
    ]
    return Group(facts.row["row_id"], tuple(blocks), gap=style.gap)


def _told(facts: RowFacts, zone: ZoneFacts, style: Style) -> list[Block]:
    """Return clips, fixings and posts in words: each on lines of its own, or one after the other where it is tight."""
    size = style.size
    clips, fixings, unlike, places = (
        [*clip_words(facts, size), *shift_words(facts, size)],
        fixing_words(facts, size),
        unlike_words(facts, zone, size),
        place_words(facts, size),
    )
    if not style.heads:
        return flow([*clips, *fixings, *unlike, *places, *station_words(facts, size)])
    return [*flow(clips), *flow(fixings), *flow(unlike), *flow(places), *station_lines(facts, size)]


def _head(facts: RowFacts, size: float) -> Block:
    row, units = facts.row, facts.units
    start, end = row["start_ground_m"], row["end_ground_m"]
    figures = [
        units.wire(row["length_m"]),
        f"{row['posts']} posts{stand_words(len(facts.posts) - len(facts.new_posts))}",
    ]
    if start is not None and end is not None:
        figures.append(f"{'rises' if end > start else 'falls'} {units.ground(abs(end - start))}")
    figures.append(f"steepest {fixed(row['max_grade_pct'], 0, '%')}")
    figures.append(f"{row['two_way_posts']} two-way")
    if row["hours"]:
        figures.append(f"{fixed(row['hours'], 1)} h")

    def draw(pen: Pen, top: float) -> None:
        pen.line((LEFT, top), (RIGHT, top), stroke=0.5)
        base = top + 0.39 * size
        wide = pen.text(LEFT, base, row["row_id"], size, bold=True, room=WIDTH / 2.0)
        pen.text(LEFT + wide + 4.0, base, "  \N{MIDDLE DOT}  ".join(figures), MAIN, room=WIDTH - wide - 4.0)

    return Block(0.46 * size, draw)


def _strained_before(facts: RowFacts, size: float) -> list[Block]:
    """What comes of straining before the wire is in its clips, in a row where a knot would not bear it."""
    force = facts.units.force
    new = [w for w in facts.wires if w["standing"] != "yes"]
    over = [w for w in new if w["unclipped_n"] is not None and w["unclipped_n"] > w["knot_bears_n"]]
    ends = [f"{w['wire_id']} at {force(w['unclipped_n'])} (knot bears {force(w['knot_bears_n'])})" for w in over]
    words = f"Strained before it is in its clips it would end: {', '.join(ends)}." if over else ""
    return [text_block([line], size, bold=True) for line in wrap(words, size, WIDTH, bold=True)]


def _table_head(units: Units) -> Block:
    def draw(pen: Pen, top: float) -> None:
        for (left, title), room in zip(_COLUMNS, _ROOMS, strict=True):
            pen.text(left, top + 3.6, title.format(length=units.wire.sign), SMALL, room=room)
        pen.line((LEFT, top + 4.6), (RIGHT, top + 4.6), stroke=0.25)

    return Block(4.8, draw)


def _wire_lines(facts: RowFacts, wire: dict[str, Any], size: float) -> list[Block]:
    """Return a wire's lines of the table; what does not fit into the first block follows line by line."""
    coils, adjusters = (
        [line for line in getattr(facts, name) if line["wire_id"] == wire["wire_id"]] for name in ("coils", "adjusters")
    )
    cells = (
        _wrapped([(wire["wire_id"], True)], 0, size),
        _wrapped(_run_out(facts.units, wire), 1, size),
        _packed(_coil_lengths(facts.units, coils), 2, size),
        _wrapped(_strain(facts.units, wire), 3, size),
        _wrapped([(words, False) for words in _adjusters(facts.units, wire, adjusters)], 4, size),
    )
    longest = max(len(cell) for cell in cells)
    parts = range(0, longest, _DEEP)
    return [
        _cells_block([cell[start : start + _DEEP] for cell in cells], size, rule=start == parts[-1]) for start in parts
    ]


_Cell = list[tuple[str, bool]]  # lines of a cell, and which are bold


def _wrapped(cell: _Cell, column: int, size: float) -> _Cell:
    return [(line, bold) for words, bold in cell for line in wrap(words, size, _ROOMS[column], bold=bold)]


def _packed(cell: _Cell, column: int, size: float) -> _Cell:
    """Return a cell whose plain words stand beside each other where there is room."""
    lines: _Cell = []
    for words, bold in cell:
        if lines and not bold and not lines[-1][1]:
            both = f"{lines[-1][0]}; {words}"
            if width(clean(both), size) <= _ROOMS[column]:
                lines[-1] = (both, False)
                continue
        lines += _wrapped([(words, bold)], column, size)
    return lines


def _cells_block(cells: list[_Cell], size: float, *, rule: bool) -> Block:
    step = _TIGHT * leading(size)
    height = max(len(cell) for cell in cells) * step + (1.1 if rule else 0.0)

    def draw(pen: Pen, top: float) -> None:
        for cell, (left, _), room in zip(cells, _COLUMNS, _ROOMS, strict=True):
            for number, (words, bold) in enumerate(cell):
                pen.text(left, top + number * step + 0.8 * leading(size), words, size, bold=bold, room=room)
        if rule:
            pen.line((LEFT, top + height - 0.3), (RIGHT, top + height - 0.3), stroke=0.15, grey=PALE)

    return Block(height, draw)


def _run_out(units: Units, wire: dict[str, Any]) -> _Cell:
    if wire["standing"] == "yes":
        return [("hangs already", True)]
    if wire["run_out_m"] is None:
        return [("not known: heights missing", True)]
    return [(f"{wire['lines']} {_TIMES} {units.wire.bare(wire['run_out_m'] / wire['lines'])}", True)]


def _strain(units: Units, wire: dict[str, Any]) -> _Cell:
    if wire["standing"] == "yes":
        return [("\N{EN DASH}", False)]
    where = wire["strain_from"] or ""
    if wire["strain_at_post"]:
        where += f", {post_ranges([post_number(wire['strain_at_post'])])}"
    said = [(units.small(wire["strain_pull_mm"]), False)]
    return said if where in {"", "one end"} else [*said, (where, True)]


def _coil_lengths(units: Units, coils: Lines) -> _Cell:
    """Return the coil of each line and the metres run off it, and where a further length is joined on.

    Lines that follow each other on one coil stand together: C001 0.0-18.0-36.0.
    """
    found: list[tuple[str, bool]] = []
    last: tuple[str, float] | None = None
    for cut in sorted(coils, key=lambda cut: (cut["line"], cut["piece"])):
        to = units.wire.bare(cut["to_m"])
        whole = cut["piece"] == 1
        if whole and last == (cut["coil_id"], cut["from_m"]):
            found[-1] = (f"{found[-1][0]}\N{EN DASH}{to}", False)
        else:
            plus = "" if whole else "+ "
            found.append((f"{plus}{cut['coil_id']} {units.wire.bare(cut['from_m'])}\N{EN DASH}{to}", False))
        last = (cut["coil_id"], cut["to_m"])
        if cut["with_line"] is not None and cut["with_line"] < cut["line"]:
            found.append(("both in one walk", True))
            last = None
        if cut["join_m"] is not None:
            found.append((f"join at {units.wire(cut['join_m'])}, {span_posts(cut['join_span'])}", True))
            last = None
    return found or [("\N{EN DASH}", False)]


def _adjusters(units: Units, wire: dict[str, Any], adjusters: Lines) -> list[str]:
    """Return the adjuster of a wire's lines: once where they are alike."""
    if not adjusters:
        return ["none: drops by itself" if wire["drops_by_itself"] == "yes" else "\N{EN DASH}"]
    texts: dict[str, list[int]] = {}
    for line in adjusters:
        turns = "" if line["turns"] is None else f", {fixed(line['turns'], 1)} turns"
        there = ", there" if line["standing"] == "yes" else ""
        words = f"{line['kind'] or 'NO KIND REACHES'}, {line['end']}{there}: {units.small(line['take_up_mm'])}{turns}"
        texts.setdefault(words, []).append(line["line"])
    alone = len(texts) == 1
    return [words if alone else f"line {', '.join(map(str, n))}: {words}" for words, n in texts.items()]
