"""Costs by kind at the given prices: sums to the cent, and no gap that is not told."""

from decimal import Decimal

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun import tables
from wirerun.settings.catalogue import CHARGES, ChargeItem
from wirerun.stages.takeoff.costs import Job, price


def materials(lines: list[tuple[str, str, float, float]]) -> pd.DataFrame:
    frame = pd.DataFrame(lines, columns=["item", "kind", "unit_price", "total"])
    return frame.astype({"unit_price": "float64", "total": "float64"})


MIXED = materials(
    [
        ("hammer", "tool", np.nan, np.nan),
        ("thin", "wire", 79.0, 158.0),
        ("open clip, one screw", "clip", 0.17, 34.01),
        ("closing clip", "clip", np.nan, np.nan),
        ("hook", "clip", np.nan, np.nan),
        ("stout", "post", 13.5, 54.02),
        ("strainer", "adjuster", np.nan, np.nan),
    ]
)


def costs(
    lines: pd.DataFrame = MIXED,
    hours: float = 12.5,
    labour_per_hour: float | None = 20.0,
    area_ha: float = 0.5,
    row_m: float = 200.0,
    charges: tuple[ChargeItem, ...] = (),
) -> pd.DataFrame:
    job = Job(area_ha=area_ha, row_m=row_m, posts=40, hours=hours, crew_days=hours / 24.0)
    made = price(lines, job, charges, labour_per_hour=labour_per_hour, currency="EUR")
    return made.set_index("part")


def charge(name: str, per: str, amount: float | None) -> ChargeItem:
    return ChargeItem.model_validate(
        {"id": name, "per": per, "price": amount, "source": "made up in this test", "date": "2026-01-02"}
    )


NOT_PRICED = "; ".join(CHARGES)


def test_a_small_order_by_hand() -> None:
    """Posts 54.02, wire 158, clips 34.01, 12.5 h at 20: 496.03 in all."""
    made = costs()
    assert list(made.index) == ["post", "wire", "clip", "adjuster", "labour", *CHARGES, "sum"]
    assert made["total"].dropna().to_dict() == {
        "post": 54.02,
        "wire": 158.0,
        "clip": 34.01,
        "labour": 250.0,
        "sum": 496.03,
    }
    assert made.loc["sum", ["per_ha", "per_row_m"]].tolist() == pytest.approx([992.06, 2.48015], rel=1e-12)
    assert made.loc["post", ["per_ha", "per_row_m"]].tolist() == pytest.approx([108.04, 0.2701], rel=1e-12)
    assert set(made["currency"]) == {"EUR"}
    assert made["unpriced"].dropna().to_dict() == {
        "clip": "closing clip; hook",
        "adjuster": "strainer",
        **{name: name for name in CHARGES},
        "sum": f"closing clip; hook; strainer; {NOT_PRICED}",
    }


def test_labour_without_a_price_is_told_not_guessed() -> None:
    made = costs(labour_per_hour=None)
    assert np.isnan(made.loc["labour", "total"])
    assert made.loc["labour", "unpriced"] == "12.50 h of labour"
    assert made.loc["sum", "total"] == 246.03
    assert made.loc["sum", "unpriced"].endswith(f"12.50 h of labour; {NOT_PRICED}")


def test_nothing_priced_has_no_sum() -> None:
    made = costs(MIXED[MIXED["item"] == "strainer"], labour_per_hour=None)
    assert made["total"].isna().all()
    assert made[["per_ha", "per_row_m"]].isna().all(axis=None)


def test_a_priced_tool_is_a_cost() -> None:
    made = costs(materials([("reel", "tool", 30.0, 30.0), ("hammer", "tool", np.nan, np.nan)]))
    assert made.loc["tool", "total"] == 30.0
    assert made["unpriced"].drop([*CHARGES, "sum"]).isna().all()


def test_a_plan_without_rows_has_no_cost_per_metre() -> None:
    made = costs(tables.empty(tables.MATERIALS), hours=0.0, row_m=0.0)
    assert made["total"].dropna().to_dict() == {"labour": 0.0, "sum": 0.0}
    assert made["per_row_m"].isna().all()


cents = st.lists(
    st.tuples(st.sampled_from(tables.MATERIAL_KINDS), st.one_of(st.none(), st.integers(0, 10**9))), max_size=30
)


@given(cents, st.floats(0.0, 1e4), st.floats(0.0, 1e3))
def test_lines_add_up_as_printed(bought: list[tuple[str, int | None]], hours: float, labour_per_hour: float) -> None:
    """Python's decimals are the second opinion."""
    euros = [np.nan if total is None else total / 100.0 for _, total in bought]
    lines = [(f"item {n}", kind, euro, euro) for n, ((kind, _), euro) in enumerate(zip(bought, euros, strict=True))]
    made = costs(materials(lines), hours, labour_per_hour)
    printed = {part: Decimal(f"{total:.2f}") for part, total in made["total"].dropna().items()}
    whole = printed.pop("sum")
    assert whole == sum(printed.values())
    labour = printed.pop("labour")
    assert float(labour) == pytest.approx(hours * labour_per_hour, abs=0.00501)
    assert sum(printed.values()) == Decimal(sum(total or 0 for _, total in bought)) / 100


def test_what_a_job_costs_beside_materials_and_labour() -> None:
    """246.03 of materials, 240 of labour for 12 h or half a crew day of 24; then each charge, shares of all last."""
    charges = (
        charge("contingency", "% of all", 5.0),
        charge("setting out", "ha", 1500.0),
        charge("carting posts", "post", 0.8),
        charge("machine hire", "crew day", 60.0),
        charge("freight", "% of materials", 2.5),
        charge("waste", "m of row", 0.01),
    )
    made = costs(hours=12.0, charges=charges)
    expected = {
        "setting out": 750.0,
        "carting posts": 32.0,
        "machine hire": 30.0,
        "freight": 6.15,
        "waste": 2.0,
        "contingency": 65.31,
    }
    assert made.loc[list(expected), "total"].to_dict() == expected
    assert np.isnan(made.loc["tool hire", "total"])
    assert made.loc["tool hire", "unpriced"] == "tool hire"
    assert made.loc["sum", "total"] == pytest.approx(246.03 + 240.0 + sum(expected.values()), abs=1e-9)
    assert list(made.index)[-8:-1] == list(CHARGES)
