"""Costs by kind and by block at the given prices: sums to the cent, and no gap that is not told."""

from decimal import Decimal

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun import tables
from wirerun.arrays import FloatArray, words
from wirerun.model.costs import Bought, Costs, Sizes
from wirerun.result.cost_tables import block_cost_table, cost_table
from wirerun.settings.catalogue import CHARGES, ChargeItem
from wirerun.stages.takeoff.costs import price

Lines = list[tuple[str, str, float]]
MIXED: Lines = [
    ("hammer", "tool", np.nan),
    ("thin", "wire", 158.0),
    ("open clip, one screw", "clip", 34.01),
    ("closing clip", "clip", np.nan),
    ("hook", "clip", np.nan),
    ("stout", "post", 54.02),
    ("strainer", "adjuster", np.nan),
]


def bought(lines: Lines, worth: FloatArray | None = None) -> Bought:
    """What is ordered: item, kind, total; what each block uses of it, else nothing, [block, item]."""
    total = np.array([total for *_, total in lines], dtype=np.float64)
    used = np.where(np.isnan(total), np.nan, 0.0)[None, :] if worth is None else worth
    return Bought(words(item for item, *_ in lines), words(kind for _, kind, _ in lines), total, used)


def sizes(**of_block: list[float]) -> Sizes:
    """One block of 0.5 ha, 200 m of row, 40 posts and 12.5 h, unless told otherwise; a crew day has 24 h."""
    given = {name: np.array(values, dtype=np.float64) for name, values in of_block.items()}
    measured = {name: given.get(name, np.array([value])) for name, value in BLOCK.items()}
    blocks = len(measured["hours"])
    posts = measured.pop("posts").astype(np.int64)
    ids = words(f"B{n + 1:02d}" for n in range(blocks))
    with_posts = {"set_share": np.ones(blocks), "set_row_m": measured["row_m"], "set_hours": measured["hours"]}
    return Sizes(ids, posts=posts, crew_day_h=24.0, **measured, **with_posts)


BLOCK = {"area_ha": 0.5, "row_m": 200.0, "posts": 40.0, "hours": 12.5}


def costs(
    lines: Lines = MIXED,
    hours: float = 12.5,
    labour_per_hour: float | None = 20.0,
    row_m: float = 200.0,
    charges: tuple[ChargeItem, ...] = (),
) -> pd.DataFrame:
    of = sizes(hours=[hours], row_m=[row_m])
    made = price(bought(lines), of, charges, labour_per_hour=labour_per_hour)
    return cost_table(made, of, "EUR", "").set_index("part")


def charge(name: str, per: str, amount: float | None) -> ChargeItem:
    return ChargeItem.model_validate(
        {"id": name, "per": per, "price": amount, "source": "made up in this test", "date": "2026-01-02"}
    )


NOT_PRICED = "; ".join(CHARGES)
EVERY_CHARGE = (
    charge("contingency", "% of all", 5.0),
    charge("setting out", "ha", 1500.0),
    charge("carting posts", "post", 0.8),
    charge("machine hire", "crew day", 60.0),
    charge("freight", "% of materials", 2.5),
    charge("waste", "m of row", 0.01),
)


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
    assert made.loc[["sum"], ["per_ha", "per_row_m"]].to_numpy().ravel() == pytest.approx([992.06, 2.48015], rel=1e-12)
    assert made.loc[["post"], ["per_ha", "per_row_m"]].to_numpy().ravel() == pytest.approx([108.04, 0.2701], rel=1e-12)
    assert set(made["currency"]) == {"EUR"}
    assert made["unpriced"].dropna().to_dict() == {
        "clip": "closing clip; hook",
        "adjuster": "strainer",
        **{name: name for name in CHARGES},
        "sum": f"closing clip; hook; strainer; {NOT_PRICED}",
    }


def test_labour_without_a_price_is_told_not_guessed() -> None:
    made = costs(labour_per_hour=None)
    assert made["total"].isna()["labour"]
    assert made.loc["labour", "unpriced"] == "12.50 h of labour"
    assert made.loc[["labour"], ["quantity", "unit"]].to_numpy().tolist() == [[12.5, "h"]]
    assert made.loc["sum", "total"] == 246.03
    assert made["unpriced"].to_dict()["sum"].endswith(f"12.50 h of labour; {NOT_PRICED}")


def test_nothing_priced_has_no_sum() -> None:
    made = costs(MIXED[-1:], labour_per_hour=None)
    assert made["total"].isna().all()
    assert made[["per_ha", "per_row_m"]].isna().all(axis=None)


def test_a_priced_tool_is_a_cost() -> None:
    made = costs([("reel", "tool", 30.0), ("hammer", "tool", np.nan)])
    assert made.loc["tool", "total"] == 30.0
    assert made["unpriced"].drop([*CHARGES, "sum"]).isna().all()


def test_a_plan_without_rows_has_no_cost_per_metre() -> None:
    made = costs([], hours=0.0, row_m=0.0)
    assert made["total"].dropna().to_dict() == {"labour": 0.0, "sum": 0.0}
    assert made["per_row_m"].isna().all()


def test_an_order_of_nothing_has_freight_of_nothing() -> None:
    made = costs([], hours=0.0, charges=EVERY_CHARGE)
    assert made.loc[["freight"], ["quantity", "total"]].to_numpy().tolist() == [[0.0, 0.0]]
    assert made.loc["sum", "total"] == pytest.approx(1.05 * (750.0 + 32.0 + 2.0))


cents = st.lists(
    st.tuples(st.sampled_from(tables.MATERIAL_KINDS), st.one_of(st.none(), st.integers(0, 10**9))), max_size=30
)


@given(cents, st.integers(0, 10**6), st.integers(0, 10**7))
def test_lines_add_up_as_printed(ordered: list[tuple[str, int | None]], hundredths: int, rate: int) -> None:
    """Python's decimals are the second opinion: hours in hundredths, an hour's price in ten-thousandths."""
    lines = [(f"item {n}", kind, np.nan if total is None else total / 100.0) for n, (kind, total) in enumerate(ordered)]
    made = costs(lines, hundredths / 100.0, rate / 1e4)
    printed = {part: Decimal(f"{total:.2f}") for part, total in made["total"].dropna().items()}
    whole = printed.pop("sum")
    assert whole == sum(printed.values())
    labour = printed.pop("labour")
    assert abs(labour - Decimal(hundredths) * rate / 10**6) <= Decimal("0.005")
    assert sum(printed.values()) == Decimal(sum(total or 0 for _, total in ordered)) / 100


def test_what_a_job_costs_beside_materials_and_labour() -> None:
    """246.03 of materials, 240 of labour for 12 h or half a crew day of 24; then each charge, shares of all last."""
    made = costs(hours=12.0, charges=EVERY_CHARGE)
    expected = {
        "setting out": (0.5, "ha", 1500.0, 750.0),
        "carting posts": (40.0, "post", 0.8, 32.0),
        "machine hire": (0.5, "crew day", 60.0, 30.0),
        "freight": (246.03, "% of materials", 2.5, 6.15),
        "waste": (200.0, "m of row", 0.01, 2.0),
        "contingency": (1306.18, "% of all", 5.0, 65.31),
    }
    for part, line in expected.items():
        assert tuple(made.loc[part, ["quantity", "unit", "unit_price", "total"]]) == line
    assert made["total"].isna()["tool hire"]
    assert made.loc["tool hire", "unpriced"] == "tool hire"
    assert made.loc["sum", "total"] == pytest.approx(246.03 + 240.0 + sum(line[3] for line in expected.values()))
    assert list(made.index)[-8:-1] == list(CHARGES)


def in_blocks() -> tuple[Costs, Sizes]:
    """Two blocks, one three times the other; of the posts a tenth is spare, and 3.50 of the wire is left."""
    of = sizes(area_ha=[0.3, 0.1], row_m=[300.0, 100.0], posts=[30, 10], hours=[9.0, 3.0])
    ordered: Lines = [("stout", "post", 110.0), ("thin", "wire", 75.5), ("hook", "clip", np.nan), ("reel", "tool", 8.0)]
    worth = np.array([[75.0, 54.0, np.nan, 0.0], [25.0, 18.0, np.nan, 0.0]])
    return price(bought(ordered, worth), of, EVERY_CHARGE, labour_per_hour=20.0), of


def test_what_belongs_to_a_block_and_what_to_the_whole_order() -> None:
    """Each block bears what it uses, and of every share what it is a share of; spares and tools are nobody's."""
    made, of = in_blocks()
    block = dict(zip(made.part.tolist(), made.of_block.T.tolist(), strict=True))
    assert block["post"] == [75.0, 25.0, 10.0]
    assert block["wire"] == [54.0, 18.0, 3.5]
    assert block["tool"] == [0.0, 0.0, 8.0]
    assert block["labour"] == [180.0, 60.0, 0.0]
    assert block["setting out"] == [450.0, 150.0, 0.0]
    assert block["carting posts"] == [24.0, 8.0, 0.0]
    assert block["machine hire"] == [22.5, 7.5, 0.0]
    # 2.5 % of 129.00, 43.00 and 21.50, 4.84 in all; what rounding leaves of one goes to the next.
    assert block["freight"] == [3.23, 1.07, 0.54]
    assert block["sum"] == pytest.approx(np.array(list(block.values()))[:-1].sum(axis=0))
    table = block_cost_table(made, of, "EUR")
    assert table["block_id"].fillna("").drop_duplicates().tolist() == ["B01", "B02", ""]
    assert "clip" not in set(table["part"])
    whole = table[(table["block_id"] == "B01") & (table["part"] == "sum")].iloc[0]
    assert whole["per_ha"] == pytest.approx(whole["total"] / 0.3)
    assert whole["per_row_m"] == pytest.approx(whole["total"] / 300.0)
    assert table.loc[table["block_id"].isna(), ["per_ha", "per_row_m"]].isna().all(axis=None)


shares = st.lists(st.integers(0, 10**6), min_size=3, max_size=3)


@given(st.lists(st.tuples(shares, st.integers(0, 10**5)), min_size=1, max_size=6), shares, st.floats(0.0, 99.0))
def test_blocks_and_the_whole_order_add_up_to_all(
    used: list[tuple[list[int], int]], hours: list[int], rate: float
) -> None:
    """To the cent, line by line; and nobody gets money back."""
    worth = np.array([each for each, _ in used]).T / 7919.0  # no round cents
    ordered: Lines = [
        (f"item {n}", "clip" if n % 2 else "post", np.floor(100.0 * worth[:, n].sum() + 0.5) / 100.0 + spare / 100.0)
        for n, (_, spare) in enumerate(used)
    ]
    of = sizes(
        area_ha=[h / 1e5 for h in hours],
        row_m=[1.0 * h for h in hours],
        posts=[float(h) for h in hours],
        hours=[h / 100.0 for h in hours],
    )
    made = price(bought(ordered, worth), of, EVERY_CHARGE, labour_per_hour=rate)
    for part, total, parts in zip(made.part, made.total, made.of_block.T, strict=True):
        if not np.isnan(total):
            printed = [Decimal(f"{share:.2f}") for share in parts]
            assert sum(printed) == Decimal(f"{total:.2f}"), part
            assert min(printed) >= 0, part
