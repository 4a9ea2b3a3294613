"""The first questions to a plan, answered once: what to order, what it costs, how many days, what to look at.

The map's opening panel and the first sheet of the cards show it, number by number and word by word.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import pandas as pd

from wirerun.clip_need import ClipNeed
from wirerun.findings import name_some
from wirerun.records import Plan
from wirerun.rounding import rounded
from wirerun.tables.supply import MATERIAL_KINDS
from wirerun.terms import in_terms
from wirerun.units import units_of
from wirerun.wording import many, number

#: What each kind of thing is called in an order, in its plural. Wire comes in coils.
ORDERED: Final = {
    "post": "Posts",
    "wire": "Coils of wire",
    "clip": "Clips",
    "staple": "Staples",
    "fastener": "Fasteners of clips",
    "wire end": "Wire ends and joiners",
    "adjuster": "Slack adjusters",
    "end assembly": "End assemblies",
}
_MATERIALS: Final = frozenset(MATERIAL_KINDS)
_LABOUR: Final = "labour"
_SUM: Final = "sum"
_MOST_BLOCKS: Final = 6  # that are named: more fill a sheet, and all of them stand among the findings


@dataclass(frozen=True, slots=True)
class Ordered:
    """One kind of thing to order: its name, and how many of it with the spares."""

    name: str
    pieces: int


@dataclass(frozen=True, slots=True)
class Fact:
    """One figure: what it is, how much (None: not priced), its unit, and whether it is part of the one before.

    `figure` is whole: what is shown is not rounded again.
    """

    words: str
    figure: int | None
    unit: str = ""
    part: bool = False


@dataclass(frozen=True, slots=True)
class Headline:
    """What a plan comes to.

    Attributes
    ----------
    order : tuple of Ordered
        What to order by kind, tools and what is in stock left out.
    currency : str
        Of all sums.
    total, total_per_ha : float or None
        The whole cost, and per hectare of block; None where nothing is priced.
    materials, labour, other : float
        The parts of it, labour None where an hour has no price; other is carting, hire, freight, waste and contingency.
    hours : float
        Hours of one person. [h]
    people, days : int, float
        The crew, and how many days it takes.
    look_posts, look_rows : int
        Posts to be checked on site, and rows that have one.
    lacks : tuple of str
        What is in none of these numbers, a sentence each: the worst first.
    facts : tuple of Fact
        The same but for order and lacks, in words and whole figures, as it is shown.
    """

    order: tuple[Ordered, ...]
    currency: str
    total: float | None
    total_per_ha: float | None
    materials: float
    labour: float | None
    other: float
    hours: float
    people: int
    days: float
    look_posts: int
    look_rows: int
    lacks: tuple[str, ...]
    facts: tuple[Fact, ...]


def headline(plan: Plan) -> Headline:
    """Return the headline of a plan."""
    whole = plan.costs[plan.costs["part"] == _SUM]
    parts = plan.costs[plan.costs["part"] != _SUM].set_index("part")["total"]
    look = plan.posts[plan.posts["clip_need"] == ClipNeed.LOOK]
    materials = float(parts[[part in _MATERIALS for part in parts.index]].sum())
    terms = plan.config.output.terms
    told = Headline(
        order=_order(plan.materials),
        currency=plan.config.catalogue.currency,
        total=_known(whole["total"]),
        total_per_ha=_known(whole["per_ha"]),
        materials=materials,
        labour=_known(parts[parts.index == _LABOUR]),
        other=float(parts.drop(_LABOUR, errors="ignore").sum()) - materials,
        hours=float(plan.zones["hours"].sum()),
        people=plan.config.work.people,
        days=float(plan.zones["days"].sum()),
        look_posts=len(look),
        look_rows=int(look["row_id"].nunique()),
        lacks=tuple(in_terms(sentence, terms) for sentence in _lacks(plan)),
        facts=(),
    )
    facts = (replace(fact, words=in_terms(fact.words, terms)) for fact in _facts(told))
    return replace(told, facts=tuple(facts))


def _facts(told: Headline) -> Iterator[Fact]:
    """Go through what is shown."""
    money = told.currency
    yield Fact("Cost of all priced", _whole(told.total), money)
    if told.total is not None:
        yield Fact("materials", _whole(told.materials), money, part=True)
        yield Fact("labour", _whole(told.labour), money, part=True)
        yield Fact("carting, hire, freight, reserve", _whole(told.other), money, part=True)
        yield Fact("per hectare", _whole(told.total_per_ha), money, part=True)
    yield Fact(f"Days of a crew of {told.people}", math.ceil(told.days))
    yield Fact("labour hours", _whole(told.hours), part=True)
    yield Fact("Rows to check on site", told.look_rows)
    yield Fact("such posts", told.look_posts, part=True)


def _whole(value: float | None) -> int | None:
    return None if value is None else int(rounded(value))


def _known(cell: pd.Series) -> float | None:
    """Return what a column of one line says; None where it is empty or there is no line."""
    return float(cell.iloc[0]) if cell.notna().any() else None


def _order(materials: pd.DataFrame) -> tuple[Ordered, ...]:
    """Return how many of each kind, spares with them and the stock taken off."""
    pieces = materials["to_order"].groupby(materials["kind"]).sum()
    return tuple(Ordered(name, int(pieces[kind])) for kind, name in ORDERED.items() if pieces.get(kind, 0))


def _lacks(plan: Plan) -> list[str]:
    """Return what is in none of the numbers: blocks, rows, lines, prices, hours."""
    out = [f"Block {block.block_id} is not planned: {block.reason}" for block in plan.missing[:_MOST_BLOCKS]]
    if len(plan.missing) > _MOST_BLOCKS:
        out.append(f"{many(len(plan.missing) - _MOST_BLOCKS, 'more block', 'are')} not planned: see the findings.")
    left_out = plan.left_out
    if len(left_out):
        far = units_of(plan.config.output.units).far
        long = f"{number(left_out['length_m'].sum() / far.metric)} {far.sign}"
        out.append(
            f"{many(len(left_out), 'row')}, {long}, in no number here: no ground heights. "
            f"{name_some(left_out['row_id'])}."
        )
    beyond = int((plan.adjusters["kind"].isna() & (plan.adjusters["standing"] != "yes")).sum())
    if beyond:
        out.append(f"{many(beyond, 'line')} of wire without an adjuster: none in the list is long enough.")
    clips = plan.clips
    to_fix = clips["clip"].notna() & ~((clips["pieces"] > 0) & (clips["standing_pieces"] == clips["pieces"]))
    bare = int(clips.loc[clips["fixing"].isna() & to_fix, "post_id"].nunique())
    if bare:
        out.append(f"{many(bare, 'post')} at which no fixing of the catalogue holds: none is ordered there.")
    out += _unpriced(plan)
    stands = what_stands(plan)
    return [*out, f"Stand already, so in no order, cost or hour: {stands}."] if stands else out


def what_stands(plan: Plan) -> str:
    """Return in words what stands already; "" where nothing does."""
    wires = plan.wires.loc[plan.wires["standing"] == "yes", "wire_id"].unique()
    counted = (
        (int((plan.posts["standing"] == "yes").sum()), "post"),
        (int(plan.clips["standing_pieces"].sum()), "fixing"),
        (int((plan.adjusters["standing"] == "yes").sum()), "adjuster"),
    )
    said = [many(pieces, thing) for pieces, thing in counted if pieces]
    return ", ".join([*said, *(f"the wire {name}" for name in wires)])


def _unpriced(plan: Plan) -> list[str]:
    """Return what has no price: things of the order, and parts of the cost."""
    unpriced = plan.materials[plan.materials["unit_price"].isna()]
    tools = unpriced["kind"] == "tool"
    things, some = list(unpriced.loc[~tools, "item"]), int(tools.sum())
    whole = plan.costs.loc[plan.costs["part"] == _SUM, "unpriced"].dropna()
    parts = [part for words in whole for part in words.split("; ")]
    named = things + [part for part in parts if part not in things]
    out = []
    if named:
        out.append(f"Not priced, so in no sum: {name_some(named)}.")
    if some:
        out.append(f"{many(some, 'kind')} of tool without a price: taken as at hand.")
    return out
