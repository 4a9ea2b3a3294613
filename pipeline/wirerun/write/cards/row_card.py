"""The card of a row: its figures, its strip, which clips go where, and for each wire what to run out, set and check."""

from collections.abc import Iterable
from typing import Any, Final

from wirerun.rules.order_of_work import STRAIN
from wirerun.write.cards.facts import Lines, RowFacts
from wirerun.write.cards.lanes import clip_lines, fixing_lines
from wirerun.write.cards.letters import BIG, BODY, MAIN, SMALL, clean, leading, width, wrap
from wirerun.write.cards.numbers import (
    NONE,
    celsius,
    coarse,
    coil_span,
    millimetres,
    newtons,
    number,
    post_number,
    post_ranges,
    span_posts,
)
from wirerun.write.cards.pen import LEFT, PALE, RIGHT, WIDTH, Pen
from wirerun.write.cards.row_strip import strip_block
from wirerun.write.cards.setting import setting_lines
from wirerun.write.cards.sheets import Block, Group, text_block

_TIMES: Final = "\N{MULTIPLICATION SIGN}"
#: Left edges of the columns of the wires' table, and what stands over them.
_COLUMNS: Final = (
    (LEFT, "wire, its height"),
    (LEFT + 29.0, "run out, m"),
    (LEFT + 54.0, "coil, metres run off"),
    (LEFT + 94.0, "set at {celsius}"),
    (LEFT + 115.0, "check: set, gauge reads N"),
    (LEFT + 157.0, "adjuster"),
)
_ROOMS: Final = tuple(
    right - left - 1.0
    for (left, _), right in zip(_COLUMNS, (*(left for left, _ in _COLUMNS[1:]), RIGHT + 1.0), strict=True)
)
_TIGHT: Final = 0.92  # of the usual leading
_DEEP: Final = 4  # lines of a cell that stay together


def row_group(facts: RowFacts) -> Group:
    """Return the card of a row."""
    blocks = [
        _head(facts),
        strip_block(facts),
        *clip_lines(facts),
        *fixing_lines(facts),
        *setting_lines(facts),
        text_block(_strain(facts), MAIN, bold=True),
        _table_head(celsius(facts.stringing_c)),
        *(block for wire in facts.wires for block in _wire_lines(facts, wire)),
    ]
    return Group(facts.row["row_id"], tuple(blocks), gap=2.0)


def _head(facts: RowFacts) -> Block:
    row = facts.row
    start, end = row["start_ground_m"], row["end_ground_m"]
    figures = [f"{number(row['length_m'], 1)} m", f"{row['posts']} posts"]
    if start is not None and end is not None:
        figures.append(f"{'rises' if end > start else 'falls'} {number(abs(end - start), 1)} m")
    figures.append(f"steepest {number(row['max_grade_pct'], 0, '%')}")
    figures.append(f"{row['two_way_posts']} two-way")
    if row["hours"]:
        figures.append(f"{number(row['hours'], 1)} h")

    def draw(pen: Pen, top: float) -> None:
        pen.line((LEFT, top), (RIGHT, top), stroke=0.5)
        wide = pen.text(LEFT, top + 6.2, row["row_id"], BIG, bold=True, room=WIDTH / 2.0)
        pen.text(LEFT + wide + 4.0, top + 6.2, "  \N{MIDDLE DOT}  ".join(figures), MAIN, room=WIDTH - wide - 4.0)

    return Block(7.4, draw)


def _strain(facts: RowFacts) -> list[str]:
    """When to strain, and what comes of doing it before in this row, where a knot would not bear it."""
    over = [w for w in facts.wires if w["unclipped_n"] is not None and w["unclipped_n"] > w["knot_bears_n"]]
    if not over:
        return [STRAIN]
    ends = [f"{w['wire_id']} {newtons(w['unclipped_n'])} (knot: {newtons(w['knot_bears_n'])})" for w in over]
    return wrap(f"{STRAIN} Strained before, it would end at: {', '.join(ends)}.", MAIN, WIDTH, bold=True)


def _table_head(stringing: str) -> Block:
    def draw(pen: Pen, top: float) -> None:
        for (left, title), room in zip(_COLUMNS, _ROOMS, strict=True):
            pen.text(left, top + 3.6, title.format(celsius=stringing), SMALL, room=room)
        pen.line((LEFT, top + 4.6), (RIGHT, top + 4.6), stroke=0.25)

    return Block(4.8, draw)


def _wire_lines(facts: RowFacts, wire: dict[str, Any]) -> Iterable[Block]:
    """Return a wire's lines of the table; what does not fit into the first block follows line by line."""
    wire_id = wire["wire_id"]
    mine: dict[str, Lines] = {
        name: [line for line in getattr(facts, name) if line["wire_id"] == wire_id]
        for name in ("coils", "adjusters", "lifts", "checks")
    }
    cells = (
        _names(facts, wire, mine["lifts"]),
        _run_out(facts, wire),
        _coil_lengths(mine["coils"]),
        _set(wire),
        _checks(mine["checks"]),
        _adjusters(wire, mine["adjusters"]),
    )
    longest = max(len(cell) for cell in cells)
    for start in range(0, longest, _DEEP):
        yield _cells_block([cell[start : start + _DEEP] for cell in cells], rule=start + _DEEP >= longest)


_Cell = list[tuple[str, float, bool]]  # lines of a cell: text, size, bold


def _cells_block(cells: list[_Cell], *, rule: bool) -> Block:
    height = max(sum(_TIGHT * leading(size) for _, size, _ in cell) for cell in cells) + (1.1 if rule else 0.0)

    def draw(pen: Pen, top: float) -> None:
        for cell, (left, _), room in zip(cells, _COLUMNS, _ROOMS, strict=True):
            y = top
            for words, size, bold in cell:
                pen.text(left, y + 0.8 * leading(size), words, size, bold=bold, room=room)
                y += _TIGHT * leading(size)
        if rule:
            pen.line((LEFT, top + height - 0.3), (RIGHT, top + height - 0.3), stroke=0.15, grey=PALE)

    return Block(height, draw)


def _names(facts: RowFacts, wire: dict[str, Any], lifts: Lines) -> _Cell:
    settings = facts.settings.get(wire["wire_id"])
    words = f"at {number(settings.height_m, 2)} m" if settings else ""
    if lifts:
        words += "; lift " + ", ".join(number(lift["height_m"], 2) for lift in lifts)
    name = _fitted(wire["wire_id"], _ROOMS[0], bold=True)
    return [*name, *((line, SMALL, False) for line in wrap(words, SMALL, _ROOMS[0]))]


def _run_out(facts: RowFacts, wire: dict[str, Any]) -> _Cell:
    if wire["run_out_m"] is None:
        return [("not known", MAIN, True), ("heights missing", SMALL, False)]
    length = _fitted(f"{wire['lines']} {_TIMES} {number(wire['run_out_m'] / wire['lines'], 1)}", _ROOMS[1], bold=True)
    settings = facts.settings.get(wire["wire_id"])
    return [*length, (f"{settings.diameter_mm:g} mm wire", SMALL, False)] if settings else length


def _set(wire: dict[str, Any]) -> _Cell:
    where = wire["strain_from"] or ""
    if wire["strain_at_post"]:
        where += f", {post_ranges([post_number(wire['strain_at_post'])])}"
    said = [(newtons(wire["tension_n"]), MAIN, True), (f"pull {millimetres(wire['strain_pull_mm'])}", SMALL, False)]
    return said if where == "one end" else [*said, (where, SMALL, False)]


def _fitted(words: str, room: float, *, bold: bool = False) -> _Cell:
    """Return text in the main size, or smaller where it does not fit so."""
    size = MAIN if width(clean(words), MAIN, bold=bold) <= room else BODY
    return [(line, size, bold) for line in wrap(words, size, room, bold=bold)]


def _coil_lengths(coils: Lines) -> _Cell:
    """Return the coil of each line and the metres run off it, and where a further length is joined on."""
    found: _Cell = []
    for cut in sorted(coils, key=lambda cut: (cut["line"], cut["piece"])):
        plus = "+ " if cut["piece"] > 1 else ""
        found += _fitted(f"{plus}{coil_span(cut['coil_id'], cut['from_m'], cut['to_m'])}", _ROOMS[2])
        if cut["join_m"] is not None:
            words = f"join at {number(cut['join_m'], 1)} m, {span_posts(cut['join_span'])}"
            found += [(line, BODY, True) for line in wrap(words, BODY, _ROOMS[2], bold=True)]
    return found or [(NONE, MAIN, False)]


def _checks(checks: Lines) -> _Cell:
    """Return for each temperature the tension to set then, and between which readings the gauge must lie."""
    cell: _Cell = []
    for check in checks:
        reads = f"{coarse(check['gauge_n'], 0.5)}\N{EN DASH}{coarse(check['gauge_stuck_n'], 0.5)}"
        words = f"{celsius(check['temperature_c'])}: {newtons(check['tension_n'])}, {reads}"
        cell += [(line, BODY, False) for line in wrap(words, BODY, _ROOMS[4])]
    return cell or [(NONE, BODY, False)]


def _adjusters(wire: dict[str, Any], adjusters: Lines) -> _Cell:
    """Return the adjuster of a wire's lines: once where they are alike."""
    if not adjusters:
        return [("drops by itself" if wire["drops_by_itself"] == "yes" else NONE, SMALL, False)]
    cell: _Cell = []
    texts: dict[tuple[str, ...], list[int]] = {}
    for line in adjusters:
        turns = [] if line["turns"] is None else [f"{number(line['turns'], 1)} turns"]
        kind = line["kind"] or "NO KIND REACHES"
        words = (kind, f"{line['end']}: {millimetres(line['take_up_mm'])}", *turns)
        texts.setdefault(words, []).append(line["line"])
    for words, numbers in texts.items():
        which = f"line {', '.join(map(str, numbers))}: " if len(texts) > 1 else ""
        for part in (which + words[0], *words[1:]):
            cell += [(line, SMALL, False) for line in wrap(part, SMALL, _ROOMS[5])]
    return cell
