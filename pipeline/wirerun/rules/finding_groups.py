"""Findings as a person takes them in: those of one code together, and first what costs most.

What is at stake goes first, for a thing that is missing from an order costs more than a clip that turns out to be
another; then money, where it can be reckoned from the plan.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wirerun.findings import CODES, LEVELS
from wirerun.records import Plan
from wirerun.settings.catalogue_row import DEMO
from wirerun.terms import in_terms

#: What is at stake, the dearest first, with the codes of it. Any other code is `TO_KNOW`.
STAKES: Final[tuple[tuple[str, frozenset[str]], ...]] = (
    (
        "missing from the order",
        frozenset(
            {
                "block-missing",
                "no-rows",
                "row-left-out",
                "rows-without-posts",
                "lines-outside",
                "posts-off-rows",
                "no-fixing",
                "no-end",
                "no-adjuster",
                "not-in-catalogue",
                "no-price",
                "no-rate",
                "run-too-long",
            }
        ),
    ),
    ("the prices may be otherwise", frozenset({"demo-prices"})),
    (
        "may break, pull out or touch the ground",
        frozenset(
            {
                "standing-ends",
                "standing-short",
                "standing-off-line",
                "standing-one-way",
                "standing-fixings-elsewhere",
                "knot-overload",
                "post-uplift",
                "smooth-in-uplift",
                "strained-unclipped",
                "low-clearance",
                "slack-wire",
                "steep-row",
                "machine-limit",
                "service-fixing",
                "service-knot",
                "service-left-out",
                "service-moment",
                "service-post",
                "end-posts",
                "lift-load",
                "crew-too-small",
            }
        ),
    ),
    (
        "the ground may be otherwise",
        frozenset(
            {
                "absent-tiles",
                "coarse-ground",
                "cover-gap",
                "crs-shift",
                "ground-ridges",
                "ground-rounded",
                "ground-spikes",
                "height-unit-assumed",
                "height-unit-unsaid",
                "hole-bridged",
                "look-on-site",
                "sidecar-unread",
                "survey-noise",
                "survey-too-coarse",
                "survey-verdict",
                "undeclared-nodata",
            }
        ),
    ),
)
TO_KNOW: Final = "good to know"


@dataclass(frozen=True, slots=True)
class FindingGroup:
    """Findings of one code: its level, what it means, what is at stake, and which lines of the findings they are.

    `cost` is how much of the sum hangs on them, or what they may add to it, in the plan's currency; None where the plan
    cannot tell.
    """

    code: str
    level: str
    meaning: str
    stake: str
    cost: float | None
    lines: tuple[int, ...]


def finding_groups(plan: Plan) -> list[FindingGroup]:
    """Return the findings of a plan by code: errors, warnings, notes; in each by stake, then what costs most.

    Parameters
    ----------
    plan : Plan
        Its `findings`; `lines` count them from 0.
    """
    findings = plan.findings.reset_index(drop=True)
    costs = _costs(plan)
    groups = [
        FindingGroup(
            str(code),
            level,
            in_terms(meaning, plan.config.output.terms),
            stake_of(str(code)),
            costs.get(str(code)),
            tuple(some.index),
        )
        for code, some in findings.groupby("code", sort=False)
        for level, meaning in (CODES[str(code)],)
    ]
    stakes = [*(stake for stake, _ in STAKES), TO_KNOW]
    return sorted(
        groups, key=lambda one: (-LEVELS.index(one.level), stakes.index(one.stake), -(one.cost or 0.0), one.lines)
    )


def stake_of(code: str) -> str:
    """Return what is at stake with a code."""
    return next((stake for stake, codes in STAKES if code in codes), TO_KNOW)


def _costs(plan: Plan) -> dict[str, float]:
    """Return the money that findings are about, by code; only what the plan's own numbers tell."""
    invented = plan.materials["price_source"].fillna("").str.contains(DEMO, regex=False)
    found = {
        "row-left-out": _of_rows_left_out(plan),
        "look-on-site": _of_two_way_after_all(plan),
        "demo-prices": float(plan.materials.loc[invented, "total"].sum()),
    }
    return {code: cost for code, cost in found.items() if cost}


def _of_rows_left_out(plan: Plan) -> float:
    """Return what the rows left out would cost at the price of a metre of the rows that are planned."""
    per_m = plan.costs.loc[plan.costs["part"] == "sum", "per_row_m"].dropna()
    return float(per_m.sum() * plan.left_out["length_m"].sum())


def _of_two_way_after_all(plan: Plan) -> float:
    """Return what two-way fixings would cost more than the planned ones, wherever one is to look on site.

    A fixing's price is that of the catalogue with its fasteners; a wire's two-way fixing is the one that most of its
    two-way clips have.
    """
    price = {
        item.id: item.price + item.fasteners * (item.fastener_price or 0.0) if item.fastener else item.price
        for item in plan.catalogue.fixings
        if item.price is not None
    }
    clips = plan.clips.dropna(subset="fixing")
    usual = clips[clips["clip"] == "two-way"].groupby("wire_id")["fixing"].agg(lambda some: some.mode().iloc[0])
    look = clips[(clips["look_on_site"] == "yes") & clips["wire_id"].isin(usual.index)]
    after_all, planned = (
        fixing.map(price).to_numpy(dtype=np.float64) for fixing in (look["wire_id"].map(usual), look["fixing"])
    )
    return max(0.0, float(np.nansum((after_all - planned) * look["pieces"].to_numpy(dtype=np.float64))))
