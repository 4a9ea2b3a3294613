"""Which line of wire is cut from which coil, in working order, and what other ways would come to."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray
from wirerun.findings import Findings, name_some
from wirerun.model.coils import CoilOptions, CoilPieces, CoilPlan, WireLines, WireSpans
from wirerun.optimise.coil_bound import least_cost
from wirerun.optimise.coil_order import cut_in_order, shortest_piece_mm
from wirerun.optimise.coil_packing import least_coils, pack_whole
from wirerun.optimise.coil_pieces import Coil, Lines, Pieces, carried, in_one_walk, most_in_a_zone, most_open, spent
from wirerun.records import Stock
from wirerun.rules.wire_work import CoilPrices, coil_prices
from wirerun.settings import Catalogue, CoilSettings, WorkSettings
from wirerun.settings.catalogue import WireItem
from wirerun.wording import many, number

# Metres are whole millimetres. A length this close to one is that one: what is over is rounding of the sum.
_ROUNDING_MM: Final = 1e-6
_IN_ORDER: Final = "in working order"


def cut_coils(
    lines: WireLines,
    spans: WireSpans,
    catalogue: Catalogue,
    settings: CoilSettings,
    work: WorkSettings,
    notes: Findings,
    stock: Stock | None = None,
) -> CoilPlan:
    """Cut every line from the coils that are open when the crew comes to it.

    Lines are taken in their order, never with more coils of one wire open at once than the settings allow. Of the ways
    to do so one is taken that costs least, or nearly: coils, joins, and coils carried from zone to zone. What has no
    price or no rate is weighed as in the demo's catalogue, but is in no cost. Coils are rounded down to the millimetre.

    Part coils of the stock come first, the longest of them before the others; what is too short for a piece of a joined
    line stays in the store. Whole coils in stock are like those that are bought: they too are worth their price.

    Where joins are not allowed, a line longer than a coil is joined all the same. A least piece of more than half a
    coil could not always be kept; half a coil is taken then.

    Parameters
    ----------
    lines : WireLines
        What to cut; wires that the catalogue does not have are left out.
    spans : WireSpans
        Where a join comes to lie.
    catalogue : Catalogue
        Its wires, joiners and rates.
    settings : CoilSettings
        Coils open at once, joins, pieces.
    work : WorkSettings
        What an hour costs.
    notes : Findings
        Gets coils and bounds of every item, and runs that are longer than a coil.
    stock : Stock, optional
        Its part coils.

    Returns
    -------
    CoilPlan
        Pieces item by item, in the order of the catalogue.
    """
    stock = stock or Stock.nothing()
    cut = [
        _cut_item(lines, np.flatnonzero(mine), item, catalogue, settings, work, stock)
        for item in catalogue.wire
        if (mine := lines.item == item.id).any()
    ]
    for each in cut:
        each.tell(notes, lines, settings)
    pieces = [each.best.pieces for each in cut]
    before = np.cumsum([0, *(each.coils for each in pieces)])
    line = _joined(each.at[own.line] for each, own in zip(cut, pieces, strict=True))
    together = [each.at[in_one_walk(each.best.pieces, each.lines, settings.open)] for each in cut]
    from_mm, to_mm = (_joined(getattr(own, name) for own in pieces) for name in ("from_mm", "to_mm"))
    join_m, join_span = _places(line, to_mm - from_mm, lines, spans)
    options = [option for each in cut for option in each.options]
    return CoilPlan(
        lines=lines,
        pieces=CoilPieces(
            line=line,
            coil=_joined(first + own.coil for first, own in zip(before, pieces, strict=False)),
            from_mm=from_mm,
            to_mm=to_mm,
            carried=_joined(carried(each.best.pieces, each.lines).astype(np.int64) for each in cut).astype(bool),
            with_line=_with_line(lines, _joined(together))[line],
            join_m=join_m,
            join_span=join_span,
        ),
        item=np.array([each.item.id for each in cut for _ in range(each.best.pieces.coils)], dtype=object),
        coil_mm=_joined(each.best.pieces.begun_mm(each.coil) for each in cut),
        whole_mm=_joined(np.full(each.best.pieces.coils, each.coil.length_mm) for each in cut),
        part=_joined(np.append(each.part, -1)[each.best.pieces.part] for each in cut),
        kept=_joined(each.kept(settings).astype(np.int64) for each in cut).astype(bool),
        options=CoilOptions(
            item=np.array([each.item.id for each in cut for _ in each.options], dtype=object),
            way=np.array([option.way for option in options], dtype=object),
            coils=_whole(option.pieces.coils for option in options),
            joins=_whole(option.pieces.joins for option in options),
            most_open=_whole(most_open(option.pieces) for option in options),
            most_in_a_zone=_whole(most_in_a_zone(option.pieces, option.lines) for option in options),
            trips=_whole(carried(option.pieces, option.lines).sum() for option in options),
            cost=np.array([option.cost for option in options], dtype=np.float64),
            least_cost=np.array([option.least_cost for option in options], dtype=np.float64),
            chosen=np.array([option is each.best for each in cut for option in each.options], dtype=bool),
        ),
    )


class _Option(NamedTuple):
    """A way to cut one kind of wire; `lines` as they are priced for the reader."""

    way: str
    lines: Lines
    pieces: Pieces
    cost: float
    least_cost: float


@dataclass(frozen=True, slots=True)
class _CutItem:
    """One kind of wire: places of its lines on the axis of all, the ways to cut it, and the one that is taken.

    `part`: places in the stock of the coil's part coils, without those `too_short`, of which so many are there.
    """

    item: WireItem
    at: IntArray
    lines: Lines
    coil: Coil
    part: IntArray
    too_short: int
    fewest: int
    options: list[_Option]
    best: _Option
    exact: bool
    within: float

    def kept(self, settings: CoilSettings) -> BoolArray:
        """Whether what is left of each coil is worth keeping, [coil]."""
        return np.asarray(_remainders(self.best.pieces, self.coil) >= 1000.0 * settings.least_remainder_m)

    def tell(self, notes: Findings, lines: WireLines, settings: CoilSettings) -> None:
        """Note what was cut, and what is too long."""
        pieces, fewest, coil_m = self.best.pieces, self.fewest, self.coil.length_mm / 1000.0
        proof = "the least possible" if pieces.whole == fewest else f"at least {fewest} are needed, whatever the order"
        parts = pieces.coils - pieces.whole
        first = ""
        if parts:
            on_them = number(pieces.begun_mm(self.coil)[pieces.part >= 0].sum() / 1000.0)
            first = f"{many(parts, 'part coil')} of the stock with {on_them} m first, then "
        cost = (
            "nothing in this order costs less"
            if self.exact
            else f"within {100.0 * self.within:.1f} % of a proven least cost"
        )
        kept = _remainders(pieces, self.coil)[self.kept(settings)]
        left = f"{many(len(kept), 'remainder')} long enough to keep"
        if len(kept):
            left += f", {number(kept.sum() / 1000.0)} m in all"
        length_mm = self.lines.length_mm
        notes.note(
            "coils",
            f"{first}{many(pieces.whole, 'coil')} of {coil_m:.1f} m for {many(len(self.at), 'run')}, "
            f"{number(length_mm.sum() / 1000.0, 3)} m in all: {proof}; with {many(pieces.joins, 'join')}, "
            f"{most_open(pieces)} open at once, at most {most_in_a_zone(pieces, self.lines)} in a zone; {cost}; "
            f"{left}.",
            self.item.id,
        )
        if self.too_short:
            notes.note(
                "stock-short",
                f"{many(self.too_short, 'part coil')} of the stock too short for a piece of a joined run (coils."
                f"least_piece_m, coils.no_join_m); left in the store.",
                self.item.id,
            )
        long = length_mm > self.coil.length_mm
        if long.any() and not settings.joins:
            notes.note(
                "run-too-long",
                f"{many(int(long.sum()), 'run', 'are')} longer than a coil of {coil_m:.1f} m, up to "
                f"{length_mm.max() / 1000.0:.1f} m, and coils.joins is false. Joined all the same, with "
                f"{many(pieces.joins, 'join')}, so that the order is whole: "
                f"{name_some(dict.fromkeys(lines.row_id[self.at[long]]))}.",
                self.item.id,
            )


def _cut_item(
    lines: WireLines,
    at: IntArray,
    item: WireItem,
    catalogue: Catalogue,
    settings: CoilSettings,
    work: WorkSettings,
    stock: Stock,
) -> _CutItem:
    """Cut the lines of one wire in every way."""
    coil_mm = int(np.floor(1000.0 * item.length_m + _ROUNDING_MM))
    end_piece_mm = int(np.ceil(1000.0 * max(settings.least_piece_m, settings.no_join_m) - _ROUNDING_MM))
    prices = [coil_prices(item, catalogue, work, to_weigh=to_weigh) for to_weigh in (True, False)]
    beside = _beside(lines, at) & (settings.in_one_walk and settings.open > 1)
    weighed, told = (_priced(lines, at, price, beside) for price in prices)
    part = _parts(stock, item, shortest_piece_mm(end_piece_mm, coil_mm))
    parts_mm = tuple(stock.part_mm[part].tolist())
    weigh, tell = (Coil(coil_mm, price.coil, parts_mm) for price in prices)

    def option(way: str, pieces: Pieces, least: float = np.nan) -> _Option:
        cost = np.nan if item.price is None else spent(pieces, told, tell, settings.open)
        return _Option(way, told, pieces, cost, np.nan if item.price is None else least)

    options = [
        option(f"fewest coils {words}", pack_whole(told, group, tell, end_piece_mm))
        for words, group in (
            ("whatever the order", np.zeros(len(at), dtype=np.int64)),
            ("within a block", lines.block[at]),
            ("within a zone", lines.zone[at]),
        )
    ]
    for joins in (False, True):
        cut = cut_in_order(weighed, weigh, most_open=settings.open, joins=joins, end_piece_mm=end_piece_mm)
        cost = spent(cut.pieces, weighed, weigh, settings.open)
        bound = cost if cut.exact else least_cost(weighed, weigh, most_open=settings.open, joins=joins)
        # The bound is of the prices that were weighed; only where all are told is it one of the cost.
        least = bound if prices[0] == prices[1] else np.nan
        options.append(option(f"{_IN_ORDER} {'with' if joins else 'without'} joins", cut.pieces, least))
        if joins == settings.joins:
            best, exact, within = options[-1], cut.exact, cost / bound - 1.0 if bound > 0.0 else 0.0
    length_mm = lines.length_mm[at]
    beyond_parts = max(int(length_mm.sum()) - sum(parts_mm), 0)
    fewest = -(-beyond_parts // coil_mm)
    if not settings.joins:
        fewest = max(fewest, least_coils(length_mm, coil_mm) - len(parts_mm))
    too_short = int((stock.part_item == item.id).sum()) - len(part)
    return _CutItem(item, at, told, tell, part, too_short, fewest, options, best, exact, within)


def _parts(stock: Stock, item: WireItem, shortest_mm: int) -> IntArray:
    """Part coils of a wire that are long enough to be cut from, the longest first: their places in the stock."""
    mine = np.flatnonzero((stock.part_item == item.id) & (stock.part_mm >= shortest_mm))
    return mine[np.argsort(-stock.part_mm[mine], kind="stable")]


def _beside(lines: WireLines, at: IntArray) -> BoolArray:
    """Whether each line runs along the other side of the posts from the line before it: 2 beside 1, 4 beside 3."""
    same = (lines.row_id[at[1:]] == lines.row_id[at[:-1]]) & (lines.wire_id[at[1:]] == lines.wire_id[at[:-1]])
    return np.append(False, same & (lines.number[at[1:]] % 2 == 0))[: len(at)]


def _with_line(lines: WireLines, second: IntArray) -> IntArray:
    """Number of the line that each is run out with, 0 where it is run out alone, [line]; `second` of two at once."""
    beside = np.zeros(len(lines), dtype=np.int64)
    beside[second], beside[second - 1] = lines.number[second - 1], lines.number[second]
    return beside


def _priced(lines: WireLines, at: IntArray, price: CoilPrices, beside: BoolArray) -> Lines:
    factor = lines.slope_factor[at]
    return Lines(
        length_mm=lines.length_mm[at],
        zone=lines.zone[at],
        join_price=price.joiner + price.join_work * factor,
        carry_price=price.carry_work * factor,
        beside=beside,
        walk_price=price.walk_per_m * factor * lines.length_mm[at] / 1000.0,
    )


def _remainders(pieces: Pieces, coil: Coil) -> IntArray:
    """What is left of each coil, [coil] [mm]."""
    used = np.zeros(pieces.coils, dtype=np.int64)
    np.maximum.at(used, pieces.coil, pieces.to_mm)
    return pieces.begun_mm(coil) - used


def _places(line: IntArray, cut_mm: IntArray, lines: WireLines, spans: WireSpans) -> tuple[FloatArray, TextArray]:
    """Where along its row each piece ends, and in which span; none for the last of a line, and without spans.

    Half of what is not in the spans is taken to be at the first post (choice).
    """
    place, name = np.full(len(line), np.nan), np.full(len(line), None, dtype=object)
    number_of = {key: row for row, key in enumerate(zip(spans.row_id, spans.wire_id, strict=True))}
    at = np.flatnonzero(np.append(line[1:] == line[:-1], False)[: len(line)])
    keys = zip(lines.row_id[line[at]], lines.wire_id[line[at]], strict=True)
    row = np.array([number_of.get(key, -1) for key in keys], dtype=np.int64)
    at, row = at[row >= 0], row[row >= 0]
    if not len(at):
        return place, name
    begins = np.flatnonzero(np.diff(line, prepend=-1))
    run = np.cumsum(cut_mm) - np.repeat((np.cumsum(cut_mm) - cut_mm)[begins], np.diff([*begins, len(line)]))
    ends = np.cumsum(spans.cut_m)
    first = np.searchsorted(spans.row, row)
    last = np.searchsorted(spans.row, row, side="right") - 1
    before = ends[first] - spans.cut_m[first]
    along = before + np.clip(run[at] / 1000.0 - 0.5 * lines.tail_m[line[at]], 0.0, ends[last] - before)
    span = np.clip(np.searchsorted(ends, along), first, last)
    to_go = (ends[span] - along) / spans.cut_m[span]
    station = np.cumsum(spans.horizontal_m)
    place[at] = station[span] - station[first] + spans.horizontal_m[first] - to_go * spans.horizontal_m[span]
    name[at] = spans.span_id[span]
    return place, name


def _joined(parts: Iterable[IntArray]) -> IntArray:
    return np.concatenate([np.zeros(0, dtype=np.int64), *parts])


def _whole(values: Iterable[int]) -> IntArray:
    return np.array(list(values), dtype=np.int64)
