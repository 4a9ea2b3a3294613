"""The first questions to a plan, answered once: what to order, what it costs, how many days, what to look at.

The map's opening panel shows it, and so may any first page: they must not differ.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wirerun.clip_need import ClipNeed
from wirerun.findings import name_some
from wirerun.records import Plan
from wirerun.tables.supply import MATERIAL_KINDS
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


@dataclass(frozen=True, slots=True)
class Ordered:
    """One kind of thing to order: its name, and how many of it with the spares."""

    name: str
    pieces: int


@dataclass(frozen=True, slots=True)
class Headline:
    """What a plan comes to.

    Attributes
    ----------
    order : tuple of Ordered
        What to order by kind, tools left out.
    currency : str
        Of all sums.
    total, total_per_ha : float or None
        The whole cost, and per hectare of block; None where nothing is priced.
    materials, labour, other : float
        The parts of it; other is carting, hire, freight, waste and contingency.
    hours : float
        Hours of one person. [h]
    people, days : int, float
        The crew, and how many days it takes.
    look_posts, look_rows : int
        Posts to be checked on site, and rows that have one.
    lacks : tuple of str
        What is in none of these numbers, a sentence each: the worst first.
    """

    order: tuple[Ordered, ...]
    currency: str
    total: float | None
    total_per_ha: float | None
    materials: float
    labour: float
    other: float
    hours: float
    people: int
    days: float
    look_posts: int
    look_rows: int
    lacks: tuple[str, ...]


def headline(plan: Plan) -> Headline:
    """Return the headline of a plan."""
    whole = plan.costs[plan.costs["part"] == _SUM]
    parts = plan.costs[plan.costs["part"] != _SUM].set_index("part")["total"]
    look = plan.posts[plan.posts["clip_need"] == ClipNeed.LOOK]
    materials = float(parts[[part in _MATERIALS for part in parts.index]].sum())
    labour = float(parts.get(_LABOUR, 0.0))
    return Headline(
        order=_order(plan.materials),
        currency=plan.config.catalogue.currency,
        total=_known(whole["total"]),
        total_per_ha=_known(whole["per_ha"]),
        materials=materials,
        labour=0.0 if np.isnan(labour) else labour,
        other=float(parts.drop(_LABOUR, errors="ignore").sum()) - materials,
        hours=float(plan.zones["hours"].sum()),
        people=plan.config.work.people,
        days=float(plan.zones["days"].sum()),
        look_posts=len(look),
        look_rows=int(look["row_id"].nunique()),
        lacks=tuple(_lacks(plan)),
    )


def _known(cell: pd.Series) -> float | None:
    """Return what a column of one line says; None where it is empty or there is no line."""
    return float(cell.iloc[0]) if cell.notna().any() else None


def _order(materials: pd.DataFrame) -> tuple[Ordered, ...]:
    """Return how many of each kind, spares with them."""
    pieces = (materials["quantity"] + materials["spare_quantity"]).groupby(materials["kind"]).sum()
    return tuple(Ordered(name, int(pieces[kind])) for kind, name in ORDERED.items() if pieces.get(kind, 0))


def _lacks(plan: Plan) -> list[str]:
    """Return what is in none of the numbers: blocks, rows, lines, prices, hours."""
    out = [f"Block {block.block_id} is not planned: {block.reason}" for block in plan.missing]
    left_out = plan.left_out
    if len(left_out):
        metres = number(left_out["length_m"].sum())
        out.append(
            f"{many(len(left_out), 'row')}, {metres} m, in no number here: no ground heights. "
            f"{name_some(left_out['row_id'])}."
        )
    beyond = int(plan.adjusters["kind"].isna().sum())
    if beyond:
        out.append(f"{many(beyond, 'line')} of wire without an adjuster: none in the list is long enough.")
    clips = plan.clips
    bare = int(clips.loc[clips["fixing"].isna() & clips["clip"].notna(), "post_id"].nunique())
    if bare:
        out.append(f"{many(bare, 'post')} at which no fixing of the catalogue holds: none is ordered there.")
    out += _unpriced(plan)
    return out


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
