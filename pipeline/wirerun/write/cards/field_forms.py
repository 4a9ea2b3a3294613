"""Forms to write down what is measured: one for each file of `[measured]`, with its columns, where it helps most.

What stands on them already are rows, places and what the plan expects there; what is left open is what is read. A
form's columns are those of its file, so that it is typed in as it stands.
"""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd

from wirerun.records import Plan
from wirerun.settings.fixing_item import LEAST_TESTS
from wirerun.settings.measured import LEAST_PULLS
from wirerun.units import fixed
from wirerun.write.cards.letters import BIG, BODY, MAIN, leading, wrap
from wirerun.write.cards.pen import LEFT, PALE, WIDTH, Pen
from wirerun.write.cards.print_names import as_printed
from wirerun.write.cards.sheets import Block, Group, Sheet, lay_out, text_block, write_sheets

# Room for a hand-written line: choice. [mm]
_LINE_MM: Final = 8.5
# Where along a row one reads, as shares of it: choice.
_SHARES: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
_LINES: Final = 3
_TESTS: Final = 10
_PULLS: Final = 5
_FREED: Final = 4
# Of so many times as many of the best rows some are taken that lie apart: choice.
_AMONG: Final = 6
# A freed wire is measured where it hangs at least so high: choice. [m]
_HANGS_M: Final = 0.2

_CAUTIONS: Final = (
    "Wear eye protection and gloves. Nobody stands in line with a wire under tension, or astride it. A pull on a post "
    "or a clip ends with a jerk: stand aside, and tie what flies. Local codes and licensed practice decide."
)


class _Column(NamedTuple):
    """A column of a form: its name in the file, its share of the width."""

    name: str
    share: float


class _Form(NamedTuple):
    """A form: its title, the file it is for, how to measure, its columns, and its lines with what is known."""

    title: str
    file: str
    how: tuple[str, ...]
    columns: tuple[_Column, ...]
    lines: Sequence[tuple[str, ...]]


def write_forms(plan: Plan, path: Path) -> None:
    """Write the forms of a plan: one PDF, A4, the same bytes for the same plan.

    Parameters
    ----------
    plan : Plan
        Rows, posts and clips to measure at. A plan without rows gives forms to fill in altogether.
    path : Path
        The file to write; its folder is made if it is missing.
    """
    write_sheets(plan, path, "field forms", "What to measure in the field, and where it helps most", form_sheets(plan))


def form_sheets(plan: Plan) -> list[Sheet]:
    """Return all forms, each beginning on a sheet of its own, laid out but not drawn."""
    plan = as_printed(plan)
    forms = (_tensions(plan), _clip_tests(plan), _pull_outs(plan), _minutes(plan), _freed(plan))
    return [sheet for form in forms for sheet in lay_out("", [_group(form)])]


def _group(form: _Form) -> Group:
    key = form.file.removesuffix(".csv")
    head = (
        f'Type it in as {form.file}, name it in the config ([measured] {key} = "{form.file}") and plan again; '
        "`wirerun measured` says what it changes. Metres, newtons, degrees Celsius. Columns as here, but for those "
        "with a star, which are for you."
    )
    blocks: list[Block] = [text_block([form.title], BIG, bold=True, after=1.0)]
    blocks += [text_block(wrap(sentence, MAIN, WIDTH), MAIN, after=0.8) for sentence in form.how]
    blocks += [text_block(wrap(words, BODY, WIDTH), BODY, after=0.8) for words in (_CAUTIONS, head)]
    blocks.append(_written("day, crew, weather:"))
    heads = _heads(form.columns)
    return Group(form.title, (*blocks, heads, *(_line(form.columns, cells) for cells in form.lines)), again=heads)


def _edges(columns: Sequence[_Column]) -> list[float]:
    """Left edges of the columns, and the right edge of the last [mm]."""
    whole = sum(column.share for column in columns)
    return [LEFT + WIDTH * sum(column.share for column in columns[:place]) / whole for place in range(len(columns) + 1)]


def _heads(columns: Sequence[_Column]) -> Block:
    edges = _edges(columns)

    def draw(pen: Pen, top: float) -> None:
        for column, edge, end in zip(columns, edges, edges[1:], strict=False):
            pen.text(edge + 0.8, top + 4.6, column.name, BODY, bold=True, room=end - edge - 1.0)
        pen.line((LEFT, top + 6.0), (LEFT + WIDTH, top + 6.0), stroke=0.3)

    return Block(6.0, draw)


def _line(columns: Sequence[_Column], cells: Sequence[str]) -> Block:
    edges = _edges(columns)

    def draw(pen: Pen, top: float) -> None:
        for cell, edge, end in zip(cells, edges, edges[1:], strict=False):
            pen.text(edge + 0.8, top + 0.68 * _LINE_MM, cell, MAIN, room=end - edge - 1.0)
        for edge in edges:
            pen.line((edge, top), (edge, top + _LINE_MM), grey=PALE)
        pen.line((LEFT, top + _LINE_MM), (LEFT + WIDTH, top + _LINE_MM), grey=PALE)

    return Block(_LINE_MM, draw)


def _written(label: str) -> Block:
    def draw(pen: Pen, top: float) -> None:
        pen.text(LEFT, top + 5.4, label, BODY)
        pen.line((LEFT + 36.0, top + 6.2), (LEFT + WIDTH, top + 6.2), grey=PALE)

    return Block(leading(BODY) + 5.0, draw)


def _tensions(plan: Plan) -> _Form:
    check, states = plan.config.check, plan.config.states
    how = (
        "Right after a wire was strained from its start, read it in these spans: that tells friction in the clips.",
        "Read the same spans again on a day 15 K colder or warmer: that tells how the end posts give.",
        "gauge is what was read: tension, newtons in the wire;",
        f"gauge, newtons on the lath of {check.gauge_base_m:g} m with the wire drawn out {check.gauge_push_mm:g} mm;",
        f"or give, mm at mid-span under {check.side_force_n:g} N. Read twice, write the mean.",
        f"expected: without friction, strained at {states.stringing_c:g} \N{DEGREE SIGN}C.",
    )
    columns = (
        *(_Column("row", 26), _Column("wire", 22), _Column("line", 10), _Column("place", 15), _Column("gauge", 20)),
        *(_Column("reading", 20), _Column("temperature_c", 27), _Column("expected*", 22), _Column("note", 24)),
    )
    lines: list[tuple[str, ...]] = []
    for row_id, wire_id in _rows_with_most_turns(plan):
        spans = plan.spans[(plan.spans["row_id"] == row_id) & (plan.spans["wire_id"] == wire_id)].sort_values("span_id")
        places = dict.fromkeys(round(share * (len(spans) - 1)) for share in _SHARES)
        for at in places:
            one = spans.iloc[at]
            pull = 0.5 * (one["tension_start_n"] + one["tension_end_n"])
            place = str(one["span_id"]).rsplit("-", 1)[1]
            lines.append((row_id, wire_id, "1", place, "", "", "", fixed(pull, 0, "N"), ""))
    lines += [("",) * len(columns)] * max(0, 20 - len(lines))
    return _Form("Tensions", "tensions.csv", how, columns, lines)


def _rows_with_most_turns(plan: Plan) -> list[tuple[str, str]]:
    """Rows that turn their wires most, where friction shows best, each with a wire: a foliage wire, then others."""
    if plan.posts.empty:
        return []
    turns = plan.posts["grade_change_pct"].abs().groupby(plan.posts["row_id"].astype(object)).sum()
    rows = _apart(turns.sort_values(ascending=False, kind="stable").index.tolist(), _LINES)
    every_wire = {one.wire_id: one.wire for one in plan.wires_of_blocks()}
    wires = sorted(every_wire.values(), key=lambda wire: wire.kind == "fixed")
    every = [(row, wire.id) for number, row in enumerate(rows) for wire in [wires[number % len(wires)]]]
    there = set(plan.wires[["row_id", "wire_id"]].itertuples(index=False, name=None))
    return [pair for pair in every if pair in there]


def _clip_tests(plan: Plan) -> _Form:
    how = (
        "Fix clips to a post as a crew does and lay a piece of the wire in.",
        "Pull it straight up with a spring balance until it comes out; each clip once.",
        f"{_TESTS} of each kind, {LEAST_TESTS} at least. The plan takes what all but 5 % of them hold.",
    )
    one_way = {item.id for item in plan.catalogue.fixings if item.holds == "down"}
    items = [item for item in _used(plan.clips, "fixing") if item in one_way][:2] or [""]
    columns = (_Column("item", 90), _Column("pull_n", 36), _Column("note", 60))
    return _Form(
        "Clip tests", "clip_tests.csv", how, columns, [(item, "", "") for item in items for _ in range(_TESTS)]
    )


def _pull_outs(plan: Plan) -> _Form:
    how = (
        "Pull posts that stand as the others do straight up with a load cell until they come. Write where, how wet.",
        f"{_PULLS} for each soil, {LEAST_PULLS} at least. The plan takes what all but 5 % withstand, and its factor.",
    )
    posts = plan.posts[plan.posts["kind"] == "intermediate"]
    items = _used(posts, "post_item")[:2] or [""]
    columns = (_Column("item", 70), _Column("pull_n", 36), _Column("note", 80))
    lines = [(item, "", "") for item in items for _ in range(_PULLS)]
    return _Form("Pull-out tests", "pull_out_tests.csv", how, columns, lines)


def _minutes(plan: Plan) -> _Form:
    how = (
        "Time whole pieces of work, half an hour and more, three times each. One line each time.",
        "Stop the watch on the way along the row and for breaks: the plan counts walking by itself.",
        "minutes: by the watch, however many are at it. quantity: of what is named; of wire metres.",
    )
    rates = [(rate.id, "m" if rate.per == "100 m of wire" else rate.per) for rate in plan.catalogue.rates]
    used = [
        *_used(plan.posts, "post_item"),
        *_used(plan.clips, "fixing"),
        *_used(plan.adjusters, "kind"),
    ]
    lines = [(task, "", unit, "", "", "", "") for task, unit in (*rates, *((item, "piece") for item in used))]
    columns = (
        *(_Column("task", 62), _Column("quantity", 24), _Column("of*", 22), _Column("minutes", 24)),
        *(_Column("people", 18), _Column("slope_pct", 22), _Column("note", 24)),
    )
    return _Form("Minutes", "minutes.csv", how, columns, lines)


def _used(table: pd.DataFrame, column: str) -> list[str]:
    return [str(item) for item in table[column].dropna().value_counts().index]


def _freed(plan: Plan) -> _Form:
    states = plan.config.states
    how = (
        "In winter, with a wire freed from all its clips, both ends fast and no adjuster let out:",
        "measure its height above the ground at these posts; 0 where it lies. Several wires tell more than one.",
        f"expected: as computed for {states.winter_c:g} \N{DEGREE SIGN}C.",
    )
    columns = (
        *(_Column("row", 28), _Column("wire", 24), _Column("place", 18), _Column("height_m", 28)),
        *(_Column("temperature_c", 30), _Column("expected*", 24), _Column("note", 34)),
    )
    lines: list[tuple[str, ...]] = []
    clips = plan.clips[plan.clips["dropped_height_m"] > _HANGS_M]
    for (row_id, wire_id), hanging in _most_hanging(clips):
        for at in dict.fromkeys(np.linspace(0, len(hanging) - 1, len(_SHARES)).round().astype(int).tolist()):
            one = hanging.iloc[at]
            place = str(one["post_id"]).rsplit("-", 1)[1]
            lines.append((row_id, wire_id, place, "", "", fixed(one["dropped_height_m"], 2, "m"), ""))
    lines += [("",) * len(columns)] * max(0, 16 - len(lines))
    return _Form("Heights of freed wires", "freed_heights.csv", how, columns, lines)


def _most_hanging(clips: pd.DataFrame) -> Iterable[tuple[Any, pd.DataFrame]]:
    """Wires that hang at most posts, one of a row."""
    groups: list[tuple[Any, pd.DataFrame]] = [
        (key, some.sort_values("post_id")) for key, some in clips.groupby(["row_id", "wire_id"], sort=True)
    ]
    groups.sort(key=lambda pair: -len(pair[1]))
    of_row: dict[str, tuple[Any, pd.DataFrame]] = {}
    for key, some in groups:
        of_row.setdefault(str(key[0]), (key, some))
    return [of_row[row] for row in _apart(list(of_row), _FREED)]


def _apart(best_first: Sequence[str], count: int) -> list[str]:
    """So many of the best rows, apart from each other: rows side by side tell the same."""
    among = sorted(best_first[: _AMONG * count])
    if len(among) <= count:
        return among
    return [among[place] for place in np.linspace(0, len(among) - 1, count).round().astype(int).tolist()]
