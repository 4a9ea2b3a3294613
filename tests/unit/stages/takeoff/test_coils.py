"""Runs of whole plans cut from coils: nothing lost, marks that add up, and an order a crew can follow."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wirerun import tables
from wirerun.arrays import words
from wirerun.findings import Findings
from wirerun.model.coils import CoilPlan
from wirerun.records import Stock
from wirerun.result.coil_tables import coil_table, wire_lines, wire_spans
from wirerun.rules.pace import slope_factor
from wirerun.settings import Catalogue, CoilSettings, WorkSettings
from wirerun.settings.catalogue import RateItem, WireItem
from wirerun.stages.takeoff.coils import cut_coils

KG_PER_M = 7850.0 * np.pi * 0.00125**2


def wire_item(name: str, coil_m: float | None) -> WireItem:
    return WireItem(
        id=name,
        diameter_mm=2.5,
        grade="high tensile",
        breaking_n=6650.0,
        coil_kg=25.0 if coil_m is None else KG_PER_M * coil_m,
        coil_m=coil_m,
        source="made up for a test",
        date=dt.date(2025, 1, 31),
    )


def wire_table(lines: list[tuple[str, str, int, float, float, str | None]]) -> pd.DataFrame:
    names = ["row_id", "wire_id", "lines", "cut_m_per_line", "tails_m_per_line", "wire_item"]
    return pd.DataFrame(lines, columns=names).astype({"lines": "int64", "cut_m_per_line": "float64"})


def one_wire(lengths: list[float], lines: int = 1) -> pd.DataFrame:
    """One row per length, numbered from 1; half a metre of each length is tails."""
    return wire_table([(f"B01-R{i + 1:03d}", "lower", lines, m - 0.5, 0.5, "thin") for i, m in enumerate(lengths)])


def cut_from(
    wires: pd.DataFrame,
    catalogue: Catalogue,
    zone: list[str] | None = None,
    spans: pd.DataFrame | None = None,
    slope_pct: float = 0.0,
    **changes: object,
) -> tuple[pd.DataFrame, dict[str, str], CoilPlan]:
    """The coils of rows in the order given, what was said by code, and the plan itself; one zone unless given."""
    row_id = list(dict.fromkeys(wires["row_id"]))
    rows = pd.DataFrame({"row_id": row_id, "block_id": "B01", "zone_id": zone or ["Z01"] * len(row_id)})
    rows["slope_pct"] = slope_pct
    coils, work, notes = CoilSettings.model_validate(changes), WorkSettings(labour_per_hour=20.0), Findings()
    lines = wire_lines(wires, rows, work)
    plan = cut_coils(
        lines, wire_spans(tables.empty(tables.SPANS) if spans is None else spans), catalogue, coils, work, notes
    )
    made = coil_table(plan, rows.set_index("row_id")["zone_id"], Stock.nothing())
    return made, {note.code: note.message for note in notes}, plan


def cut(wires: pd.DataFrame, coil_m: float, **changes: object) -> tuple[pd.DataFrame, dict[str, str]]:
    coils, said, _ = cut_from(wires, Catalogue(wire=(wire_item("thin", coil_m),)), None, None, 0.0, **changes)
    return coils, said


def in_mm(column: pd.Series) -> pd.Series:
    """Lengths as the schedule prints them, in whole millimetres."""
    return column.map(lambda metres: int(f"{metres:.3f}".replace(".", "")))


def check_marks(coils: pd.DataFrame) -> None:
    """Each coil starts at 0, has no gap, ends within its length, and tells its remainder; all to the millimetre."""
    begin, end = in_mm(coils["from_m"]), in_mm(coils["to_m"])
    last = end.groupby(coils["coil_id"]).shift(fill_value=0)
    assert (begin == last).all()
    assert (end > begin).all()
    left = in_mm(coils["coil_m"]) - end.groupby(coils["coil_id"]).transform("max")
    assert (left == in_mm(coils["remainder_m"])).all()
    assert (left >= 0).all()


def cut_lengths(coils: pd.DataFrame) -> pd.Series:
    """Length of every line in millimetres, its pieces together."""
    pieces = in_mm(coils["to_m"]) - in_mm(coils["from_m"])
    return pieces.groupby([coils["row_id"], coils["wire_id"], coils["line"]]).sum()


def test_a_small_plan_by_hand() -> None:
    """Runs of 60, 50, 40 and 50 m, coils of 100 m: the first with the third, the second with the fourth, two open."""
    coils, said = cut(one_wire([60.0, 50.0, 40.0, 50.0]), 100.0, least_remainder_m=1.0, least_piece_m=45.0)
    got = list(zip(coils["coil_id"], coils["row_id"], coils["from_m"], coils["to_m"], strict=True))
    assert got == [
        ("C001", "B01-R001", 0.0, 60.0),
        ("C001", "B01-R003", 60.0, 100.0),
        ("C002", "B01-R002", 0.0, 50.0),
        ("C002", "B01-R004", 50.0, 100.0),
    ]
    assert set(coils["joined"]) == set(coils["remainder_usable"]) == {"no"}
    assert said["coils"].startswith("2 coils of 100.0 m for 4 runs")
    assert "the least possible; with 0 joins, 2 open at once, at most 2 in a zone" in said["coils"]


def test_both_sides_of_a_row_are_run_out_in_one_walk_where_the_config_allows() -> None:
    """Two rows of 40 m, two lines each, coils of 100 m: one coil would do for a row; a walk asks for two."""
    apart, _ = cut(one_wire([40.0, 40.0], lines=2), 100.0)
    assert apart["with_line"].isna().all()
    coils, _ = cut(one_wire([40.0, 40.0], lines=2), 100.0, in_one_walk=True)
    got = coils.set_index(["row_id", "line"]).sort_index()
    assert got["with_line"].tolist() == [2.0, 1.0, 2.0, 1.0]
    assert got["coil_id"].groupby("row_id").nunique().tolist() == [2, 2]
    assert coils["coil_id"].nunique() == apart["coil_id"].nunique() == 2


def test_a_third_line_and_another_row_are_walked_for_alone() -> None:
    """Three lines: the second with the first, the third by itself, though the next row's first comes after it."""
    coils, _ = cut(one_wire([30.0, 30.0], lines=3), 100.0, in_one_walk=True)
    assert coils.set_index(["row_id", "line"]).sort_index()["with_line"].fillna(0).tolist() == [2, 1, 0, 2, 1, 0]


def test_lines_side_by_side_and_several_wires_are_all_cut() -> None:
    """Items in catalogue order, coils numbered on; a wire without length or item is left out."""
    wires = wire_table(
        [
            ("B01-R001", "fruiting", 1, 70.0, 1.0, "thick"),
            ("B01-R001", "lower", 2, 40.0, 1.0, "thin"),
            ("B01-R002", "fruiting", 1, np.nan, 1.0, "thick"),
            ("B01-R002", "lower", 2, 44.0, 1.0, None),
        ]
    )
    catalogue = Catalogue(wire=(wire_item("thin", 90.0), wire_item("thick", 100.0), wire_item("unused", 10.0)))
    coils, _, plan = cut_from(wires, catalogue, least_remainder_m=29.0)
    assert coils["coil_id"].tolist() == ["C001", "C001", "C002"]
    assert coils["wire_item"].tolist() == ["thin", "thin", "thick"]
    assert coils["line"].tolist() == [1, 2, 1]
    assert coils["remainder_m"].tolist() == [8.0, 8.0, 29.0]
    assert coils["remainder_usable"].tolist() == ["no", "no", "yes"]
    assert set(plan.options.item) == {"thin", "thick"}


def test_a_coil_without_a_labelled_length_is_as_long_as_its_mass_makes() -> None:
    """25 kg of 2.5 mm wire is 648 m: The Press, 18 Apr 1980. Rounded down to the millimetre."""
    coils, _, _ = cut_from(one_wire([100.0]), Catalogue(wire=(wire_item("thin", None),)))
    assert coils["coil_m"].iloc[0] == pytest.approx(648.0, abs=1.0)
    assert coils["coil_m"].iloc[0] == np.floor(1000.0 * 25.0 / KG_PER_M) / 1000.0


def test_runs_are_rounded_up_to_the_millimetre_and_no_further() -> None:
    """0.1 + 0.2 m is 0.300 m although the sum of the floats is a hair more; 0.3001 m is 0.301 m."""
    wires = wire_table([("B01-R001", "lower", 1, 0.1, 0.2, "thin"), ("B01-R002", "lower", 1, 0.1001, 0.2, "thin")])
    coils, _ = cut(wires, 100.0)
    assert coils["to_m"].tolist() == [0.3, 0.601]


def test_a_thousand_coils_sort_by_their_ids() -> None:
    coils, _ = cut(one_wire([90.0] * 1001), 100.0, joins=False)
    assert coils["coil_id"].is_monotonic_increasing
    assert coils["coil_id"].tolist()[::1000] == ["C0001", "C1001"]


def test_what_is_left_on_coils_and_worth_keeping_is_told() -> None:
    """Three runs of 60 m from a coil of 100 m each leave three times 40 m."""
    wires = one_wire([60.0] * 3)
    kept, said = cut(wires, 100.0, joins=False, least_remainder_m=40.0)
    assert said["coils"].endswith("; 3 remainders long enough to keep, 120 m in all.")
    assert set(kept["remainder_usable"]) == {"yes"}
    _, said = cut(wires, 100.0, joins=False, least_remainder_m=40.001)
    assert said["coils"].endswith("; 0 remainders long enough to keep.")


def test_joins_save_a_coil_and_keep_their_order() -> None:
    """Three runs of 60 m on coils of 100 m: three coils without joins, two with one join.

    The joined line is last on one coil and first on the next.
    """
    whole, _ = cut(one_wire([60.0, 60.0, 60.0]), 100.0, joins=False)
    joined, said = cut(one_wire([60.0, 60.0, 60.0]), 100.0)
    assert (whole["coil_id"].nunique(), joined["coil_id"].nunique()) == (3, 2)
    assert "with 1 join," in said["coils"]
    check_marks(joined)
    both = joined[joined["joined"] == "yes"]
    assert both["coil_id"].tolist() == ["C001", "C002"]
    assert both["to_m"].tolist()[0] == joined.loc[joined["coil_id"] == "C001", "to_m"].max()
    assert (both["to_m"] - both["from_m"]).min() >= 20.0


def test_a_run_longer_than_a_coil_is_joined_and_said_where_joins_are_not_allowed() -> None:
    coils, said = cut(one_wire([60.0, 250.001, 40.0]), 100.0, joins=False)
    long = coils["row_id"] == "B01-R002"
    assert set(coils.loc[long, "joined"]) == {"yes"}
    assert set(coils.loc[~long, "joined"]) == {"no"}
    assert "1 run is longer than a coil of 100.0 m, up to 250.0 m" in said["run-too-long"]
    assert cut_lengths(coils).tolist() == [60_000, 250_001, 40_000]
    check_marks(coils)
    _, quiet = cut(one_wire([60.0, 130.0]), 100.0)
    assert list(quiet) == ["coils"]


def test_a_least_piece_longer_than_half_a_coil_stops_nothing() -> None:
    """101 m from coils of 100 m in pieces of 90 m cannot be; half a coil is the least piece then."""
    coils, _ = cut(one_wire([101.0]), 100.0, least_piece_m=90.0)
    assert cut_lengths(coils).tolist() == [101_000]
    assert (coils["to_m"] - coils["from_m"]).min() >= 50.0


def test_no_wire_at_all_makes_an_empty_table() -> None:
    for wires in (one_wire([]), one_wire([20.0]).assign(cut_m_per_line=np.nan)):
        coils, said = cut(wires, 100.0)
        assert coils.empty
        assert said == {}


@pytest.mark.parametrize("slope_pct", [0.0, 40.0])
def test_ways_are_priced_alike_and_the_chosen_is_the_plans(slope_pct: float) -> None:
    """Coils of 100 m at 50, joiners unpriced, 5 and 3 minutes at 20 an hour: 1.67 a join, 1 for each coil carried.

    On a slope the work takes as much longer as all work there.
    """
    thin = wire_item("thin", 100.0).model_copy(update={"price": 50.0})
    minutes = {"join": ("join", 5.0), "carry coils": ("coil", 3.0)}
    rates = tuple(
        RateItem.model_validate({"id": name, "per": per, "minutes": each, "source": "made up", "date": "2025-01-31"})
        for name, (per, each) in minutes.items()
    )
    wires = one_wire([60.0, 60.0, 60.0, 60.0])
    coils, _, plan = cut_from(
        wires, Catalogue(wire=(thin,), rates=rates), zone=["Z01", "Z01", "Z02", "Z02"], slope_pct=slope_pct
    )
    longer = slope_factor(np.array([slope_pct]), WorkSettings())[0]
    assert (longer > 1.0) == (slope_pct > 0.0)
    options = plan.options
    chosen = int(np.flatnonzero(options.chosen)[0])
    assert options.chosen.sum() == 1
    assert options.way[chosen] == "in working order with joins"
    assert options.coils[chosen] == coils["coil_id"].nunique() == 3
    price = 50.0 * options.coils + longer * (5.0 / 3.0 * options.joins + 1.0 * options.trips)
    assert options.cost == pytest.approx(price)
    assert (options.cost[chosen] <= options.cost).all()
    # Nothing costs less without joins than four coils, each carried once; what is not in order has no such bound.
    assert np.isnan(options.least_cost[:3]).all()
    assert options.least_cost[3:].tolist() == pytest.approx([200.0 + 4.0 * longer, price[chosen]], rel=1e-6)


def test_one_coil_at_a_time_takes_more_of_them() -> None:
    """60 m, 50 and 40, 50 m: two coils of 100 m would do in another order. Without a price there is no cost."""
    _, said, plan = cut_from(
        one_wire([60.0, 50.0, 40.0, 50.0]), Catalogue(wire=(wire_item("thin", 100.0),)), joins=False, open=1
    )
    assert plan.options.coils.tolist() == [2, 2, 2, 3, 3]
    assert plan.options.most_open.tolist() == [2, 2, 2, 1, 1]
    assert plan.options.most_in_a_zone.tolist() == [2, 2, 2, 3, 3]
    assert np.isnan(plan.options.cost).all()
    assert ": at least 2 are needed, whatever the order; with 0 joins, 1 open at once, at most 3 in a" in said["coils"]
    assert "zone; nothing in this order costs less; 2 remainders long enough to keep, 90 m in all." in said["coils"]


@pytest.mark.parametrize(("slope_pct", "longer"), [(0.0, 1.0), (40.0, 1.6)])
def test_a_line_that_is_run_out_alone_costs_its_walk_longer_on_a_slope(slope_pct: float, longer: float) -> None:
    """Both lines of a row of 40 m from one coil at 50: for the second one walks 80 m, 1.6 min at 20 an hour."""
    thin = wire_item("thin", 100.0).model_copy(update={"price": 50.0})
    _, _, plan = cut_from(
        one_wire([40.0], lines=2), Catalogue(wire=(thin,)), slope_pct=slope_pct, in_one_walk=True, open=2
    )
    assert plan.options.coils.tolist() == [1] * 5
    assert plan.options.cost == pytest.approx(50.0 + longer * 20.0 * 1.6 / 60.0)


runs = st.lists(st.integers(min_value=1_000, max_value=260_000), min_size=1, max_size=8)


@settings(max_examples=30, deadline=None)
@given(run_mm=runs, joins=st.booleans(), least_piece_m=st.sampled_from([0.0, 7.5, 20.0, 33.3333]))
def test_every_line_is_cut_to_its_length_and_marks_add_up(
    run_mm: list[int],
    least_piece_m: float,
    *,
    joins: bool,
) -> None:
    wires = one_wire([mm / 1000.0 for mm in run_mm], lines=2)
    coils, said = cut(wires, 100.0, joins=joins, least_piece_m=least_piece_m, no_join_m=0.0)
    check_marks(coils)
    assert cut_lengths(coils).tolist() == [mm for mm in run_mm for _ in range(2)]
    pieces = coils.groupby(["row_id", "line"]).size()
    joined = coils.groupby(["row_id", "line"])["joined"].first() == "yes"
    assert (joined == (pieces > 1)).all()
    short = (coils["to_m"] - coils["from_m"])[coils["joined"] == "yes"]
    assert (short >= least_piece_m - 1e-9).all()
    assert ("run-too-long" in said) == (not joins and max(run_mm) > 100_000)
    if not joins:
        too_long = {f"B01-R{i + 1:03d}" for i, mm in enumerate(run_mm) if mm > 100_000}
        assert set(coils.loc[coils["joined"] == "yes", "row_id"]) == too_long


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(min_value=1_000, max_value=100_000), min_size=1, max_size=12), st.integers(1, 3))
def test_coils_come_in_the_order_of_their_first_rows_and_few_are_open(run_mm: list[int], most: int) -> None:
    """A coil is open from its first cut to its last: never more of them at once than may be."""
    coils, _ = cut(one_wire([mm / 1000.0 for mm in run_mm]), 100.0, open=most)
    assert coils.groupby("coil_id")["row_id"].first().is_monotonic_increasing
    assert coils.groupby("coil_id")["row_id"].apply(lambda rows: rows.is_monotonic_increasing).all()
    assert list(coils["coil_id"].unique()) == [f"C{n + 1:03d}" for n in range(coils["coil_id"].nunique())]
    span = coils.groupby("coil_id")["row_id"].agg(["min", "max"])
    for row in coils["row_id"].unique():
        assert ((span["min"] < row) & (span["max"] > row)).sum() <= most


def test_a_join_is_told_by_its_span_and_how_far_along_the_row_it_is() -> None:
    """Spans of 6 m that take 6.5 m of wire, the first twice as long; half of the tails is at the first post.

    A twin goes along the row with the wire that is run out. The third row's spans are not known: nothing is told there.
    """
    cut_m, across_m = np.r_[13.0, np.full(21, 6.5)], np.r_[12.0, np.full(21, 6.0)]
    spans = pd.concat(
        pd.DataFrame(
            {
                "span_id": [f"{row}-S{n + 1:03d}" for n in range(22)],
                "row_id": row,
                "wire_id": "lower",
                "horizontal_m": across_m,
                "cut_m": cut_m,
            }
        )
        for row in ("B01-R001", "B01-R002")
    )
    wires, known = one_wire([150.0, 150.0, 150.0]), Catalogue(wire=(wire_item("thin", 100.0),))
    coils, _, _ = cut_from(wires, known, spans=spans, joins=True, least_piece_m=10.0, no_join_m=5.0)
    checked = 0
    for row, pieces in coils.groupby("row_id"):
        along = (pieces["to_m"] - pieces["from_m"]).cumsum().to_numpy()[:-1] - 0.25
        told_m, told = pieces["join_m"].to_numpy(dtype=np.float64), pieces["join_span"]
        assert np.isnan(told_m[-1])
        if row == "B01-R003":
            assert told.isna().all()
            continue
        assert told_m[:-1] == pytest.approx(np.interp(along, np.r_[0, cut_m.cumsum()], np.r_[0, across_m.cumsum()]))
        within = np.searchsorted(cut_m.cumsum(), along)
        assert told.tolist()[:-1] == [f"{row}-S{span + 1:03d}" for span in within]
        checked += len(along)
    assert checked >= 2


def test_a_join_in_the_last_span_is_told_there() -> None:
    """Spans of 60 and 40 m of wire over 54 and 36 m of row; 70.25 m, of which 0.25 m are the tail, end 10 m into it."""
    spans = pd.DataFrame(
        {
            "span_id": ["S001", "S002"],
            "row_id": "B01-R001",
            "wire_id": "lower",
            "horizontal_m": [54.0, 36.0],
            "cut_m": [60.0, 40.0],
        }
    )
    coils, _, _ = cut_from(one_wire([100.5]), Catalogue(wire=(wire_item("thin", 70.25),)), spans=spans, joins=True)
    assert coils["to_m"].tolist()[0] == 70.25
    assert coils["join_m"].tolist()[0] == pytest.approx(54.0 + 9.0)
    assert coils["join_span"].tolist()[0] == "S002"


def test_part_coils_of_the_stock_are_told_with_what_is_on_them() -> None:
    """Rows of 100 m: nine from a part coil of 900 m, the tenth from a coil of 1000 m; 2 m are too short for a piece."""
    wires, rows = one_wire([100.0] * 10), pd.DataFrame({"row_id": [f"B01-R{n:03d}" for n in range(1, 11)]})
    rows = rows.assign(block_id="B01", zone_id="Z01", slope_pct=0.0)
    nothing, work, notes = Stock.nothing(), WorkSettings(labour_per_hour=20.0), Findings()
    stock = replace(
        nothing, part_item=words(["thin", "thin"]), part_mm=np.array([2_000, 900_000]), part_tag=words([None, None])
    )
    cut_coils(
        wire_lines(wires, rows, work),
        wire_spans(tables.empty(tables.SPANS)),
        Catalogue(wire=(wire_item("thin", 1000.0),)),
        CoilSettings(joins=True, least_piece_m=10.0),
        work,
        notes,
        stock,
    )
    said = {note.code: note.message for note in notes}
    assert said["coils"].startswith("1 part coil of the stock with 900 m first, then 1 coil of 1000.0 m for 10 runs")
    assert ": the least possible; " in said["coils"]
    assert said["stock-short"].startswith("1 part coil of the stock too short for a piece")
