"""Which block of an estate is built in which year, by the hours and the money that a year has."""

from dataclasses import replace

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray
from wirerun.findings import Findings, name_some
from wirerun.model.phases import Phases
from wirerun.optimise.phasing import fewest_years, least_years
from wirerun.settings import PhaseSettings
from wirerun.wording import many, number


def phase_blocks(
    block_id: TextArray, hours: FloatArray, cash: FloatArray, settings: PhaseSettings, currency: str, notes: Findings
) -> Phases:
    """Share the blocks of an estate out over the years.

    A block that is too large for a year has years of its own, as many as it needs, in equal parts: a zone is done in a
    day, so it can stop anywhere. All others are built within one year. Where the config names an order, blocks follow
    it; else they take as few years as can be, and the years come the cheapest first.

    Parameters
    ----------
    block_id : [block]
        Those with a plan, in the order of the boundary.
    hours, cash : [block]
        What each takes; cash NaN where it is not known, which counts as nothing. [h], [currency]
    settings : PhaseSettings
        What a year has, and the order.
    currency : str
        Of the cash.
    notes : Findings
        Hears how many years it takes, and of blocks that fit into none.
    """
    limits = [(hours, settings.hours_a_year), (np.nan_to_num(cash), settings.cash_a_year)]
    share = np.stack([value / most for value, most in limits if most is not None], axis=1)
    own = np.maximum(np.ceil(share.max(axis=1) - 1e-9).astype(np.int64), 1)
    alone = own > 1
    turn = _turns(block_id, np.nan_to_num(cash), settings.order)
    if settings.order:
        year, proven = _by_turn(share, own, turn), False
    else:
        year, proven = _fewest(share, own, np.nan_to_num(cash), ~alone)
    which = np.repeat(np.arange(len(block_id)), own)
    part = np.arange(len(which)) - np.repeat(np.cumsum(own) - own, own)
    made = Phases(
        block_id=block_id[which],
        part=part + 1,
        parts=own[which],
        year=year[which] + part,
        hours=(hours / own)[which],
        cash=(cash / own)[which],
        proven=proven,
    )
    order = np.lexsort((turn[which], made.year))
    names = ("block_id", "part", "parts", "year", "hours", "cash")
    made = replace(made, **{name: getattr(made, name)[order] for name in names})
    _note(made, block_id[alone], cash, block_id, settings, currency, notes)
    return made


def _turns(block_id: TextArray, cash: FloatArray, order: tuple[str, ...]) -> IntArray:
    """Place of each block in the order of building: those that are named, then the others, the cheapest first."""
    named = {each: place for place, each in enumerate(order)}
    rank = np.array([named.get(str(each), len(order)) for each in block_id], dtype=np.int64)
    turn = np.zeros(len(block_id), dtype=np.int64)
    turn[np.lexsort((cash, rank))] = np.arange(len(block_id))
    return turn


def _by_turn(share: FloatArray, own: IntArray, turn: IntArray) -> IntArray:
    """First year of each block in their order: what does not fit begins the next year, a large block one of its own."""
    year, now, used = np.zeros(len(own), dtype=np.int64), 0, np.zeros(share.shape[1])
    for block in np.argsort(turn):
        large = own[block] > 1
        if used.any() and (large or (used + share[block] > 1.0 + 1e-9).any()):
            used, now = np.zeros_like(used), now + 1
        year[block], used = now, used + share[block]
        if large:
            used, now = np.zeros_like(used), now + int(own[block])
    return year


def _fewest(share: FloatArray, own: IntArray, cash: FloatArray, fits: BoolArray) -> tuple[IntArray, bool]:
    """First year of each block in as few years as can be, the cheapest year first, large blocks last."""
    year, proven = np.zeros(len(own), dtype=np.int64), True
    if fits.any():
        found = fewest_years(share[fits])
        proven = found.proven
        cost = np.bincount(found.year, weights=cash[fits])
        place = np.argsort(np.argsort(cost, kind="stable"))
        year[fits] = place[found.year]
    now = int(year[fits].max(initial=-1)) + 1
    for block in np.flatnonzero(~fits):
        year[block], now = now, now + int(own[block])
    # That large blocks have years of their own is our way of doing it.
    return year, proven and (bool(fits.all()) or now <= least_years(share))


def _note(
    made: Phases,
    alone: TextArray,
    cash: FloatArray,
    block_id: TextArray,
    settings: PhaseSettings,
    currency: str,
    notes: Findings,
) -> None:
    most = [
        *([f"{number(settings.hours_a_year)} h"] if settings.hours_a_year is not None else []),
        *([f"{number(settings.cash_a_year)} {currency}"] if settings.cash_a_year is not None else []),
    ]
    of = " and ".join(most)
    way = "in the order of the config" if settings.order else "the fewest there can be"
    if not settings.order and not made.proven:
        way = "the largest laid first; fewer are not ruled out"
    notes.note("phases", f"At {of} a year the {many(len(block_id), 'block')} take {many(made.years, 'year')}, {way}.")
    if len(alone):
        notes.note(
            "phases-over",
            f"Built over several years, in equal parts, for they take more than one has ({of}): {name_some(alone)}.",
        )
    unpriced = block_id[np.isnan(cash)]
    if settings.cash_a_year is not None and len(unpriced):
        notes.note(
            "phases-over",
            "What they cost is not known, for something has no price, and counts as nothing in the money of a year: "
            f"{name_some(unpriced)}.",
        )
