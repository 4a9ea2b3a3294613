"""One wire of one row mended where it broke, or set right where it is slack, on the day's temperature."""

from typing import Final, NamedTuple

import numpy as np

from wirerun.ids import span_ids
from wirerun.mechanics.chain import Chain, solve_chain, unstretched_totals
from wirerun.mechanics.gauge import side_force_for, tension_for
from wirerun.mechanics.give import Give
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.mechanics.splice import drawn_back, kept_at_ends
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire
from wirerun.model.block import PlannedBlock
from wirerun.model.repair import Break, ByAdjuster, Read, Repair
from wirerun.rules.mending import end_piece_m, join_of, piece_m
from wirerun.rules.wire import hung, wire_of
from wirerun.settings import Catalogue
from wirerun.stages.wires.end_give import end_give

# A hand-drawn wire, and a piece cut by hand, are off by so much: choice.
_BY_HAND_MM: Final = 30.0


class Asked(NamedTuple):
    """What is asked of a wire: its place on the wire axis and the row's on the row axis, and the day.

    `post` is the number of the post it broke at, from 0, `span` that of the span; both None where it is whole.
    `missing_m` is wire that is missing or spoilt, `gauge_n` what a gauge reads now, or None.
    """

    wire: int
    row: int
    celsius: float
    post: int | None = None
    span: int | None = None
    missing_m: float = 0.0
    gauge_n: float | None = None


class _Hung(NamedTuple):
    """One line of the wire as it should be on the day, in its clips."""

    supports: Supports
    spec: Wire
    chain: Chain
    length_m: float
    alone_m_per_n: float


def mend(planned: PlannedBlock, catalogue: Catalogue, asked: Asked) -> Repair | None:
    """What to cut, join, strain and read; None where the wire hangs loose at that temperature and cannot be set.

    The wire ends as it was planned: of the same length without pull, so that nothing else of the plan changes.

    Parameters
    ----------
    planned : PlannedBlock
        The block as planned.
    catalogue : Catalogue
        What wires are joined with.
    asked : Asked
        Which wire, where, and what is known of it.
    """
    wire, posts = planned.config.wires[asked.wire], planned.posts
    at = slice(int(posts.first[asked.row]), int(posts.last[asked.row]) + 1)
    own = _as_it_should_be(planned, asked, at)
    if own is None:
        return None
    spans = own.chain.spans
    start_n, far_n = float(own.chain.support_tension_n[0]), float(own.chain.support_tension_n[-1])
    # While it is strained the other wires of the row stay as they are, and the ends come in by its own pull.
    pull_m = float((spans.stretched_m - spans.unstretched_m).sum()) + own.alone_m_per_n * start_n
    middle = len(spans.stretched_m) // 2
    return Repair(
        row_id=str(posts.rows.row_id[asked.row]),
        wire_id=wire.id,
        item=wire.item,
        kind=wire.kind,
        lines=wire.lines,
        diameter_mm=wire.diameter_mm,
        celsius=asked.celsius,
        tension_n=start_n,
        far_n=far_n,
        pull_mm=1000.0 * pull_m,
        per_cm_n=_per_cm_n(own, start_n),
        gauge_span=str(span_ids(posts.post_id[at])[middle]),
        gauge_n=_gauge_n(planned, own, middle),
        greatest_n=float(planned.loads.greatest_tension_n[asked.wire, asked.row]),
        adjuster=_adjuster(planned, asked, 1000.0 * pull_m),
        broken=_broken(planned, catalogue, asked, at, own),
        read=_read(planned, own, middle, asked.gauge_n),
    )


def _as_it_should_be(planned: PlannedBlock, asked: Asked, at: slice) -> _Hung | None:
    config, posts = planned.config, planned.posts
    wire = config.wires[asked.wire]
    spec, of_block = wire_of(wire), hung(posts, wire)
    supports = Supports(of_block.x_m[at], of_block.z_m[at], np.zeros(at.stop - at.start, dtype=np.int64))
    give = end_give(posts, config.wires, config.posts)
    length = warmed(spec, planned.strung.cut_m[asked.wire, asked.row], asked.celsius - config.states.stringing_c)
    row = np.array([asked.row])
    state = chain_at_length(supports, spec, length, give.together[asked.wire].of(row))
    if not state.solved.all():
        return None
    alone: Give = give.alone[asked.wire].of(row)
    # With the ends in by what the cold asks of them, the length between them is that of the chain.
    between = float(unstretched_totals(state.chain)[0])
    return _Hung(supports, spec, state.chain, between, float(alone.m_per_n[0]))


def _shorter_by_m(own: _Hung, from_n: float, to_n: float) -> float:
    """Wire to take up from one tension at the first post to another, the ends giving way to it alone [m]."""
    totals = [float(unstretched_totals(solve_chain(own.supports, own.spec, pull))[0]) for pull in (from_n, to_n)]
    return totals[0] - totals[1] + own.alone_m_per_n * (to_n - from_n)


def _per_cm_n(own: _Hung, start_n: float) -> float:
    """Tension that a centimetre more adds [N]: by the slope from a hundredth less to the tension to set."""
    less = 0.99 * start_n
    return float(0.01 * (start_n - less) / _shorter_by_m(own, less, start_n))


def _gauge_n(planned: PlannedBlock, own: _Hung, middle: int) -> tuple[float, float]:
    """What the gauge reads in the middle span, sliding and stuck."""
    check, chord = planned.config.check, float(np.hypot(own.supports.dx_m[middle], own.supports.rise_m[middle]))
    if chord < check.gauge_base_m:
        return np.nan, np.nan
    pull = float(own.chain.spans.tension_start_n[middle])
    along = float(np.hypot(own.supports.dx_m, own.supports.rise_m).sum())
    slides, sticks = (
        float(
            side_force_for(check.gauge_base_m, pull, check.gauge_push_mm / 1000.0, own.spec.axial_stiffness_n, shared)
        )
        for shared in (along, chord)
    )
    return slides, sticks


def _read(planned: PlannedBlock, own: _Hung, middle: int, gauge_n: float | None) -> Read | None:
    if gauge_n is None:
        return None
    check = planned.config.check
    along = float(np.hypot(own.supports.dx_m, own.supports.rise_m).sum())
    there = tension_for(gauge_n, check.gauge_base_m, check.gauge_push_mm / 1000.0, own.spec.axial_stiffness_n, along)
    # What height adds between the first post and the middle span.
    now = float(there) - float(own.chain.spans.tension_start_n[middle]) + float(own.chain.support_tension_n[0])
    wanted = float(own.chain.support_tension_n[0])
    least = 0.05 * wanted  # a slacker wire hangs by its weight, and the strainer's pull tells nothing of it
    return Read(gauge_n, now, 1000.0 * _shorter_by_m(own, max(now, least), wanted))


def _adjuster(planned: PlannedBlock, asked: Asked, pull_mm: float) -> ByAdjuster | None:
    """The wire's adjuster where it reaches from slack to the tension, hand-drawn wire and piece among it."""
    adjusters, settings = planned.adjusters, planned.config.adjusters
    if not adjusters.fitted[asked.wire, asked.row]:
        return None
    name = str(adjusters.kind[asked.wire, asked.row])
    kind = next((each for each in settings.kinds if each.id == name), None)
    wanted_mm = max(float(adjusters.take_up_mm[asked.wire, asked.row]), pull_mm + _BY_HAND_MM)
    if kind is None or wanted_mm > kind.most_mm:
        return None
    turns = None if kind.barrel_mm is None else wanted_mm / (np.pi * kind.barrel_mm)
    return ByAdjuster(name, settings.end, wanted_mm, turns)


def _broken(planned: PlannedBlock, catalogue: Catalogue, asked: Asked, at: slice, own: _Hung) -> Break | None:
    if asked.post is None and asked.span is None:
        return None
    config, posts = planned.config, planned.posts
    wire, repair = config.wires[asked.wire], config.repair
    join = join_of(wire, catalogue, repair)
    names = [str(each).rsplit("-", 1)[1] for each in posts.post_id[at]]
    last = len(names) - 1
    cut = repair.cut_back_m
    if asked.post in (0, last):
        inner = 0 if asked.post == 0 else last - 1
        piece, span, share = end_piece_m(asked.missing_m, cut, join.overlap_m, wire.tail_m), inner, float(inner > 0)
        joins: tuple[str, ...] = (f"{cut:g} m from {names[asked.post or 0]}",)
    elif asked.post is not None:
        piece, span, share = piece_m(asked.missing_m, cut, join.overlap_m), asked.post, 0.0
        name = names[asked.post]
        joins = (f"{cut:g} m before {name}", f"{cut:g} m behind it, clear of the clip")
    else:
        piece, span, share = piece_m(asked.missing_m, cut, join.overlap_m), int(asked.span or 0), 0.5
        joins = (f"between {names[span]} and {names[span + 1]}, each {cut:g} m or more from the clips",)
    back = drawn_back(own.chain, span, share)
    kept = kept_at_ends(own.chain, config.states.friction, span, posts.turn_rad[at])
    there = own.chain.spans
    count = 1 if asked.post in (0, last) else 2
    return Break(
        place=names[asked.post] if asked.post is not None else f"{names[span]} to {names[span + 1]}",
        at_end=asked.post in (0, last),
        piece_m=piece,
        missing_m=asked.missing_m,
        cut_back_m=cut,
        joins=joins,
        joiner=None if join.item is None else join.item.id,
        pieces=0 if join.item is None else count * join.item.pieces,
        overlap_m=join.overlap_m,
        bears_n=join.bears_n,
        drawn_back_mm=(1000.0 * back.near_m, 1000.0 * back.far_m),
        strain_in=f"{names[span]} to {names[span + 1]}",
        there_n=0.5 * float(there.tension_start_n[span] + there.tension_end_n[span]),
        kept=(kept.near, kept.far),
    )
