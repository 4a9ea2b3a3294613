"""Foliage wires on an old trellis, as its user runs it: nothing that stands is ordered, priced or in a task."""

import csv
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner
from pypdf import PdfReader
from wirerun import load_config, plan_config
from wirerun.cli import main
from wirerun.records import Plan

ROOT = Path(__file__).parents[2]
CONFIG = ROOT / "configs" / "encosta_nova_retrofit.toml"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("retrofit") / "plan"
    ran = CliRunner().invoke(main, ["plan", str(CONFIG), "--out", str(out)])
    assert ran.exit_code == 0, ran.output
    assert "2 024 stand already" in ran.output.replace("\N{NARROW NO-BREAK SPACE}", " ")
    return out


def table(folder: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / "schedule" / f"{name}.csv", encoding="utf-8-sig")


def test_the_config_is_of_six_lines() -> None:
    lines = [line for line in CONFIG.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    assert len(lines) == 6


def test_only_the_broken_posts_are_ordered_set_and_staked(folder: Path) -> None:
    """Those that the survey calls broken, read here from the file itself."""
    with (ROOT / "sample_data" / "encosta_nova" / "old_posts.csv").open(encoding="utf-8") as stream:
        old = {(round(float(p["lon"]), 5), round(float(p["lat"]), 5)): p for p in csv.DictReader(stream)}
    posts = table(folder, "posts")
    # A post stands on its row's line, at most a metre from where it was measured: near enough to find it again.
    lonlat = np.array(list(old))
    near = [np.argmin(np.hypot(*(lonlat - at).T)) for at in posts[["lon", "lat"]].to_numpy()]
    broken = np.array([list(old.values())[at]["state"] == "broken" for at in near])
    assert ((posts["standing"] == "no").to_numpy() == broken).all()
    materials = table(folder, "materials").set_index("item")
    assert materials.loc[materials["kind"] == "post", "quantity"].sum() == broken.sum() == 10
    assert "end assembly" not in set(materials["kind"])
    programme = table(folder, "programme")
    assert programme.loc[programme["task"] == "set posts", "quantity"].sum() == 10
    assert not set(programme["task"]) & {"set end posts", "end assemblies"}


def test_only_the_foliage_wires_are_cut_strained_and_held(folder: Path) -> None:
    coils, wires, clips = (table(folder, name) for name in ("coils", "wires", "clips"))
    assert set(coils["wire_id"]) == {"lower", "upper"}
    assert set(wires.loc[wires["standing"] == "yes", "wire_id"]) == {"fruiting"}
    new = wires[wires["standing"] == "no"]
    cut = (coils["to_m"] - coils["from_m"]).sum()
    assert new["run_out_m"].sum() <= cut <= new["run_out_m"].sum() + 0.001 * new["lines"].sum() + 0.01
    programme = table(folder, "programme").groupby("task")["quantity"].sum()
    assert programme["tension"] == new["lines"].sum()
    assert programme["run out"] == pytest.approx(new["run_out_m"].sum(), abs=0.01 * 13)
    to_fix = clips["pieces"] - clips["standing_pieces"]
    assert programme["clips and staples"] == to_fix.sum()
    assert to_fix[clips["wire_id"] == "fruiting"].sum() == 10  # on the posts that are replaced
    assert clips.loc[to_fix == 0, "fixing"].isna().all()
    materials = table(folder, "materials")
    pieces = materials[materials["kind"].isin(["clip", "staple"])]["quantity"].sum()
    assert pieces == to_fix.sum()
    assert not materials["item"].str.contains("3.15 mm high").any()


def test_tools_and_charges_of_posts_are_for_the_rows_that_get_one(folder: Path) -> None:
    programme, costs = table(folder, "programme"), table(folder, "costs").set_index("part")
    with_posts = set(programme.loc[programme["task"] == "set posts", "zone_id"])
    loads = table(folder, "zone_materials")
    assert set(loads.loc[loads["item"].isin(["auger", "rammer", "marking paint"]), "zone_id"]) == with_posts
    assert 0 < len(with_posts) < loads["zone_id"].nunique()
    assert costs.loc["carting posts", "quantity"] == 10
    rows, posts = table(folder, "rows"), table(folder, "posts")
    touched = rows["row_id"].isin(posts.loc[posts["standing"] == "no", "row_id"])
    assert costs.loc["machine hire", "quantity"] == pytest.approx(rows.loc[touched, "hours"].sum() / 24.0, abs=6e-4)
    assert costs.loc["tool hire", "quantity"] == pytest.approx(rows["hours"].sum() / 24.0, abs=6e-4)


def test_what_is_in_the_wrong_place_for_a_wire_is_told(folder: Path) -> None:
    findings = table(folder, "findings").set_index("code")
    posts = table(folder, "posts")
    short = posts[(posts["standing"] == "yes") & (posts["height_out_m"] < 1.45)]
    told = str(findings.loc["standing-short", "message"])
    assert f"{len(short)} standing posts are too short for the wire upper" in told
    assert len(short) > 0
    assert (findings.loc[["standing-short", "standing-off-line", "standing-ends"], "level"] == "warning").all()


def test_order_book_and_cards_say_the_same(folder: Path) -> None:
    materials = table(folder, "materials").set_index("item")
    book = openpyxl.load_workbook(folder / "schedule" / "order.xlsx", data_only=True)
    lines = {row[0]: row for row in book["Order"].iter_rows(values_only=True) if row[0] in materials.index}
    assert {name: row[4] for name, row in lines.items()} == materials["quantity"].to_dict()
    assert {name: row[9] for name, row in lines.items()} == materials["packs"].to_dict()
    assert not [row for row in book["Ends"].iter_rows(values_only=True) if str(row[0]).startswith("B02-R")]
    text = "\n".join(page.extract_text() for page in PdfReader(folder / "cards" / "field_cards.pdf").pages)
    posts = table(folder, "posts")
    assert text.count("SET only") == posts.loc[posts["standing"] == "no", "row_id"].nunique()
    assert "set end posts" not in text
    assert "hangs" in text


@pytest.fixture(scope="module")
def all_stands(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """A plan of the lower block in which everything stands."""
    path = tmp_path_factory.mktemp("all") / "all.toml"
    text = CONFIG.read_text(encoding="utf-8").replace('"../', f'"{ROOT.as_posix()}/')
    text = text.replace(
        '"state=stands", wires = ["fruiting"]', 'true, wires = ["fruiting", "lower", "upper"], adjusters = true'
    )
    base = (ROOT / "configs" / "encosta_nova.toml").read_text(encoding="utf-8")
    (path.parent / "encosta_nova.toml").write_text(base.replace('"../', f'"{ROOT.as_posix()}/'), encoding="utf-8")
    path.write_text(text, encoding="utf-8")
    return plan_config(load_config(path))


def test_where_everything_stands_nothing_is_to_do_and_nothing_to_buy(all_stands: Plan) -> None:
    assert all_stands.programme.empty
    assert all_stands.materials.empty
    assert all_stands.coils.empty
    assert all_stands.rows["hours"].sum() == 0.0
    assert all_stands.costs["total"].fillna(0.0).sum() == 0.0
    assert len(all_stands.season) > 0  # the wires are lifted every year all the same
