"""The story of what measurements change: the order without them, with each alone, and with all."""

from dataclasses import replace

import numpy as np
import pandas as pd

from wirerun.all_blocks import plan_all
from wirerun.measurements import NOTHING, Difference, Weighed
from wirerun.progress import Progress
from wirerun.records import Inputs, Plan
from wirerun.rules.apply_measured import with_measured
from wirerun.rules.from_catalogue import driven_as_asked
from wirerun.settings import Config


def weigh_measured(inputs: Inputs, config: Config, progress: Progress, *, quick: bool) -> list[Weighed]:
    """What each measurement that is taken changes by itself, and all of them together.

    A plan without any, one with each, one with all: as many as there are values, and two more.

    Parameters
    ----------
    inputs : Inputs
        With what was measured.
    config : Config
        As written.
    progress : Progress
        Hears of each stage.
    quick : bool
        Whether only the values are told, from one plan.
    """
    whole = plan_all(inputs, config, progress, Plan)
    if quick:
        return [Weighed(one, None) for one in whole.measured]
    bare = replace(inputs, measured=NOTHING)
    before = plan_all(bare, config, progress, Plan)
    catalogue = driven_as_asked(inputs.catalogue, config)
    found = []
    for one in whole.measured:
        differences = None
        if one.changes:
            own, bought = with_measured(config, catalogue, [one])
            alone = plan_all(replace(bare, catalogue=bought), own, progress, Plan)
            differences = differences_of(before, alone)
        found.append(Weighed(one, differences))
    return [*found, Weighed(None, differences_of(before, whole))]


def differences_of(before: Plan, after: Plan) -> tuple[Difference, ...]:
    """Totals of two plans that differ: what is done otherwise first, then what is bought, the dearest change first."""
    one, other = _totals(before), _totals(after)
    keys = list(dict.fromkeys([*one, *other]))
    found = [
        Difference(what, unit, one.get((what, unit), 0.0), other.get((what, unit), 0.0), ordered=False)
        for what, unit in keys
    ]
    earlier, later = _bought(before).add_suffix("_before"), _bought(after).add_suffix("_after")
    bought = earlier.join(later, how="outer").fillna(0.0)
    step = bought["quantity_after"] - bought["quantity_before"]
    price = np.fmax(bought["price_before"], bought["price_after"])
    for key in (step.abs() * price).sort_values(ascending=False, kind="stable").index:
        line = bought.loc[key]
        found.append(
            Difference(key[1], key[2], float(line["quantity_before"]), float(line["quantity_after"]), ordered=True)
        )
    return tuple(each for each in found if abs(each.after - each.before) > 1e-6)


def _totals(plan: Plan) -> dict[tuple[str, str], float]:
    """What is counted of a plan beside what is bought."""
    cost = plan.costs.loc[plan.costs["part"] == "sum", "total"].dropna()
    from_one = plan.wires["strain_from"].fillna("one end") == "one end"
    totals = {
        ("posts with two-way clips", ""): float(plan.rows["two_way_posts"].sum()),
        ("wires to strain from both ends or the middle", ""): float((~from_one).sum()),
        ("warnings", ""): float((plan.findings["level"] == "warning").sum()),
        ("hours of work", "h"): round(float(plan.zones["hours"].sum()), 1),
    }
    if len(cost):
        totals["all that is priced", plan.config.catalogue.currency] = round(float(cost.iloc[0]), 0)
    return totals


def _bought(plan: Plan) -> pd.DataFrame:
    """Pieces to order and their price, by kind, item and unit."""
    materials = plan.materials[plan.materials["kind"] != "tool"]
    return pd.DataFrame(
        {
            "quantity": (materials["quantity"] + materials["spare_quantity"]).to_numpy(dtype=np.float64),
            "price": materials["unit_price"].fillna(0.0).to_numpy(dtype=np.float64),
        },
        index=pd.MultiIndex.from_frame(materials[["kind", "item", "unit"]]),
    )
