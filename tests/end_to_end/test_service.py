"""Whole plans with the trellis in service: what is asked for is there, what is not changes nothing."""

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyogrio
import pytest
from click.testing import CliRunner
from wirerun import plan_file
from wirerun.cli import main
from wirerun.tables import ASKED_FOR, TABLES

SERVICE = """
[service]
crop_n_per_m = { lower = 10.0 }
wind_speed_ms = 20.0
wind_speed_is = "gust"
canopy_open = 0.5
edge_rows = 1
sheltered_share = 0.3
net_n_per_m = 3.0
net_open = 0.88
harvester_side_n = 100.0
vibration_class = "hard"
smooth_keeps = 0.0
post_rule = "clay"
clay_kpa = 50.0
[machines]
limits = "limits.csv"
"""
LIMITS = (
    "id,most_grade_pct,most_cross_pct,most_slope_pct,about,source,date\n"
    'mine,0.01,,,"",my tractor,2026-11-29\nyours,,,90,"",a guess,2026-11-29\n'
)
STATES = ("crop", "wind", "crop and wind", "net", "net and wind", "machine harvest")


def test_without_the_sections_there_is_one_finding_and_no_file(make_estate: Callable[..., Any]) -> None:
    estate = make_estate(B01=[(-60.0, -8.0), (-10.0, -8.0), (-10.0, 8.0), (-60.0, 8.0)])
    ran = estate.command("plan", "--only", "schedule")
    assert ran.exit_code == 0, ran.output
    written = {path.stem for path in (estate.folder / "out" / "schedule").glob("*.csv")}
    assert not written & set(ASKED_FOR)
    findings = pd.read_csv(estate.folder / "out" / "schedule" / "findings.csv")
    (code,) = findings["code"][findings["code"].str.startswith(("service", "machine"))]
    assert code == "service-left-out"


@pytest.fixture
def both(make_estate: Callable[..., Any]) -> tuple[Path, Any, str]:
    """The schedule of an estate in service, the plan of the same without, and what the command said."""
    estate = make_estate(
        B01=[(-60.0, -8.0), (-10.0, -8.0), (-10.0, 8.0), (-60.0, 8.0)],
        B02=[(0.0, -10.0), (48.0, -10.0), (48.0, 12.0), (0.0, 12.0)],
    )
    (estate.folder / "limits.csv").write_text(LIMITS)
    ran = estate.command("plan", more=SERVICE)
    assert ran.exit_code == 0, ran.output
    assert [entry["role"] for entry in estate.record["inputs"]].count("machine limits") == 1
    assert estate.command("check").exit_code == 0  # which writes the config without the sections
    return estate.folder / "out", plan_file(estate.folder / "estate.toml"), ran.output


def test_every_row_wire_and_state_is_there_and_adds_up(both: tuple[Path, Any, str]) -> None:
    folder, bare, _ = both
    service, of_posts, machines, rows, clips = (
        pd.read_csv(folder / "schedule" / f"{name}.csv")
        for name in ("service", "service_posts", "machine_rows", "rows", "clips")
    )
    assert set(service["state"]) == set(STATES)
    assert len(service) == len(rows) * 2 * len(STATES)
    # What the bare wire is given does not change: every other table is as it was, but for the findings and marks.
    for name in ("posts", "clips", "wires", "materials", "programme"):
        theirs = bare.tables[name]
        ours = pd.read_csv(folder / "schedule" / f"{name}.csv")
        for column in TABLES[name].columns:
            if column.kind == "number" and column.name in theirs:
                np.testing.assert_allclose(ours[column.name], theirs[column.name], atol=0.51 * 10.0**-column.decimals)
    # Outermost rows of each block are at its edge, and get the whole wind.
    edge = service[service["exposure"] == "edge"]["row_id"].unique()
    outer = rows.groupby("block_id")["row_id"].agg(["first", "last"]).to_numpy().ravel()
    assert sorted(edge) == sorted(outer)
    windy = service[service["state"] == "wind"].groupby("exposure")["side_n_per_m"].max()
    assert windy["sheltered"] == pytest.approx(0.3 * windy["edge"], abs=0.011)
    # 20 m/s: 250 Pa on a canopy of 0.7 m (1.2 to 1.9 m) with 0.6 of the load of a solid wall's pressure.
    both_wires = service[(service["state"] == "wind") & (service["exposure"] == "edge")].groupby("row_id")
    np.testing.assert_allclose(both_wires["side_n_per_m"].sum(), 250.0 * 0.6 * 0.7, atol=0.02)
    # Posts: as many in each state as there are, and over where the rows' wires say so.
    counted = of_posts.groupby("state")["posts"].sum()
    assert (counted == rows["posts"].sum()).all()
    assert (of_posts["over"] <= of_posts["posts"]).all()
    assert ((of_posts["over"] > 0) == (of_posts["verdict"] == "over")).all()
    assert service["over"].sum() <= len(clips) * len(STATES)
    assert service["verdict"].isin(["within", "over"]).all()
    held = {name for name, _ in pyogrio.list_layers(folder / "gis" / "plan.gpkg")}
    assert set(ASKED_FOR) <= held
    assert set(zip(machines["limit"], machines["verdict"], strict=True)) == {("mine", "over"), ("yours", "within")}


def test_what_is_found_is_told_with_its_caution(both: tuple[Path, Any, str]) -> None:
    folder, _, said = both
    with (folder / "schedule" / "findings.csv").open(encoding="utf-8-sig", newline="") as file:
        findings = {line["code"]: line["message"] for line in csv.DictReader(file)}
    assert "service-left-out" not in findings
    assert {"service-wind", "service-fixing", "machine-limit"} <= set(findings)
    assert "competent person" in findings["service-fixing"]
    assert "no safety determination" in findings["machine-limit"]
    assert "do not hold in service" in said
    dictionary = (folder / "data_dictionary.md").read_text(encoding="utf-8")
    for name in ASKED_FOR:
        assert f"schedule/{name}.csv" in dictionary


def test_an_estate_has_the_tables_of_its_blocks_and_plans_anew_what_other_limits_ask(
    make_estate: Callable[..., Any],
) -> None:
    estate = make_estate(
        B01=[(-60.0, -8.0), (-10.0, -8.0), (-10.0, 8.0), (-60.0, 8.0)],
        B02=[(0.0, -8.0), (48.0, -8.0), (48.0, 8.0), (0.0, 8.0)],
    )
    (estate.folder / "limits.csv").write_text(LIMITS)
    target = ["--out", str(estate.folder / "estate")]
    ran = estate.command("estate", *target, more=SERVICE)
    assert ran.exit_code == 0, ran.output
    everything = estate.folder / "estate" / "all" / "schedule"
    for name, table in ASKED_FOR.items():
        whole = pd.read_csv(everything / f"{name}.csv")
        assert set(whole["block_id"]) == {"B01", "B02"}
        assert set(table.names) <= set(whole.columns)
    unchanged = estate.command("estate", *target, "--changed", more=SERVICE)
    assert unchanged.exit_code == 0, unchanged.output
    assert set(pd.read_csv(everything / "blocks.csv")["state"]) == {"unchanged"}
    (estate.folder / "limits.csv").write_text(LIMITS.replace("0.01", "0.02"))
    estate.command("estate", *target, "--changed", more=SERVICE)
    assert set(pd.read_csv(everything / "blocks.csv")["state"]) == {"planned"}


def test_plans_are_compared_by_what_they_bear_too(both: tuple[Path, Any, str], tmp_path: Path) -> None:
    folder, _, _ = both
    again = CliRunner().invoke(main, ["compare", str(folder), str(folder), "--out", str(tmp_path / "compared")])
    assert again.exit_code == 0, again.output
    differences = pd.read_csv(tmp_path / "compared" / "differences.csv")
    assert differences.empty
