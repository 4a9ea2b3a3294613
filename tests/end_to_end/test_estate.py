"""An estate: each block as it would be alone, resumed where it ended, rolled up; one block's end costs no other."""

import os
import shutil
import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import pyogrio
import pytest
import rasterio
from click.testing import CliRunner, Result
from pyproj import Transformer
from wirerun import api, estate
from wirerun.cli import main
from wirerun.errors import Exit
from wirerun.read.config import load_config
from wirerun.tables import TABLES
from wirerun.write.estate import folder_of
from wirerun.write.estate.tables import csv_cell
from wirerun.write.record import is_result, read_record, save_record

if TYPE_CHECKING:
    from tests.conftest import Estate

LEFT = [(-70.0, -14.0), (-40.0, -17.0), (-38.0, 10.0), (-66.0, 12.0)]
RIGHT = [(6.0, -15.0), (40.0, -12.0), (35.0, 15.0), (8.0, 12.0)]
FAR = [(300.0, -15.0), (350.0, -12.0), (345.0, 16.0), (302.0, 14.0)]
CONFIG = (
    'name = "estate"\n[block]\nboundary = "block.geojson"\nid_field = "block"\n[elevation]\nraster = "ground.tif"\n'
)
ROWS = "[rows]\nbearing_deg = 90.0\nspacing_m = 4.0\n"


def run(estate: "Estate", *words: str, more: str = "", out: str = "estate") -> Result:
    """Run the command on an estate, in this process."""
    (estate.folder / "estate.toml").write_text(CONFIG + ROWS + more)
    target = ["--out", str(estate.folder / out)]
    return CliRunner().invoke(main, ["estate", str(estate.folder / "estate.toml"), *target, *words])


def read(folder: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / "schedule" / f"{name}.csv", encoding="utf-8-sig")


def states(folder: Path) -> dict[str, str]:
    return dict(read(folder / "all", "blocks")[["block_id", "state"]].to_numpy().tolist())


@pytest.fixture
def both(make_estate: Callable[..., "Estate"]) -> "Estate":
    """Return two blocks, planned as an estate."""
    made = make_estate(B01=LEFT, B02=RIGHT)
    done = run(made)
    assert done.exit_code == Exit.GOOD, done.stderr
    assert "1 of 2: block B0" in done.stderr
    return made


def test_each_block_is_what_it_is_alone_and_all_of_it_is_rolled_up(
    both: "Estate", make_estate: Callable[..., "Estate"]
) -> None:
    out = both.folder / "estate"
    alone = make_estate(B02=RIGHT)
    assert run(alone).exit_code == Exit.GOOD
    for name in TABLES:
        one, other = (place / "blocks" / "B02" / "schedule" / f"{name}.csv" for place in (out, alone.folder / "estate"))
        assert one.read_bytes() == other.read_bytes()
    each = [out / "blocks" / name for name in ("B01", "B02")]
    for name in TABLES:
        whole, parts = read(out / "all", name), [read(place, name) for place in each]
        first = whole.columns[0 if "plan_of" in whole.columns else list(whole.columns).index("block_id")]
        shared = int(whole[first].isna().sum())
        assert (name == "findings") == (shared > 0)
        assert len(whole) == sum(map(len, parts)) + shared
        assert set(whole[first].dropna()) <= {"B01", "B02"}
    order = read(out / "all", "order").set_index(["kind", "item"])
    bought = pd.concat([read(place, "materials") for place in each])
    tools = bought["kind"] == "tool"
    by_item = bought[~tools].groupby(["kind", "item"])["quantity"], bought[tools].groupby(["kind", "item"])["quantity"]
    wanted = pd.concat([by_item[0].sum(), by_item[1].max()])
    assert order["quantity"].to_dict() == wanted.to_dict()
    pieces = order["packs"] * order["pack"]
    assert (pieces >= order["quantity"] + order["spare_quantity"]).all()
    assert (pieces - order["pack"] < order["quantity"] + order["spare_quantity"]).all()
    assert order["total"].sum() == pytest.approx((pieces * order["unit_price"]).sum(), abs=0.2)
    blocks = read(out / "all", "blocks").set_index("block_id")
    costs = pd.concat([read(place, "costs") for place in each])
    assert blocks["cost"].sum() == pytest.approx(costs.loc[costs["part"] == "sum", "total"].sum())
    assert blocks["hours"].sum() == pytest.approx(read(out / "all", "rows")["hours"].sum(), abs=0.01)
    assert is_result(out / "all", verify=True)


def test_blocks_are_shared_out_over_the_years_and_none_is_planned_anew_for_it(both: "Estate") -> None:
    out = both.folder / "estate"
    assert read(out / "all", "phases").empty
    before = read(out / "all", "blocks").set_index("block_id")
    assert before["year"].isna().all()
    most = float(before["hours"].max())
    more = f"[phases]\nhours_a_year = {most}\nfirst_year = 2027\n"
    done = run(both, "--changed", more=more)
    assert done.exit_code == Exit.GOOD, done.stderr
    assert states(out) == {"B01": "unchanged", "B02": "unchanged"}
    phases, blocks = read(out / "all", "phases"), read(out / "all", "blocks").set_index("block_id")
    cheapest_first = before["cost"].sort_values().index.tolist()
    assert phases["blocks"].tolist() == cheapest_first
    assert phases["hours"].tolist() == before.loc[cheapest_first, "hours"].tolist()
    assert phases["cash"].tolist() == before.loc[cheapest_first, "cost"].tolist()
    assert blocks.loc[cheapest_first, "year"].tolist() == [2027, 2028]
    assert f"year 2027: {cheapest_first[0]}:" in done.stderr
    lost = run(both, "--changed", more=more + 'order = ["B09"]\n')
    assert lost.exit_code == Exit.BAD_INPUT
    assert "phases.order: the boundary has no block B09" in lost.stderr


def test_one_geopackage_has_every_table(both: "Estate") -> None:
    out = both.folder / "estate"
    path = out / "all" / "gis" / "estate.gpkg"
    layers = {name for name, _ in pyogrio.list_layers(path)}
    assert set(TABLES) | {"block", "exclusions", "all_findings"} <= layers
    for name in ("posts", "spans", "clips", "coils", "materials"):
        frame = pyogrio.read_dataframe(path, layer=name)
        assert len(frame) == len(read(out / "all", name))
        assert set(frame["block_id"]) == {"B01", "B02"}
    assert len(pyogrio.read_dataframe(path, layer="blocks")) == 2
    assert len(pyogrio.read_dataframe(path, layer="order_items")) == len(read(out / "all", "order"))
    with closing(sqlite3.connect(path)) as base:
        told = set(base.execute("SELECT table_name, column_name FROM gpkg_data_columns WHERE description != ''"))
        listed = base.execute("SELECT table_name, description FROM gpkg_contents").fetchall()
    assert all(said for _, said in listed)
    for name, _ in listed:
        if name != "layer_styles":
            assert {(name, column) for column in pyogrio.read_info(path, name)["fields"]} == {
                one for one in told if one[0] == name
            }
    posts, rows = (pyogrio.read_dataframe(path, layer=name) for name in ("posts", "rows"))
    zone = dict(rows[["row_id", "zone_id"]].to_numpy().tolist())
    assert (posts["zone_id"] == posts["row_id"].map(zone)).all()
    clips = pyogrio.read_dataframe(path, layer="clips")
    assert clips["load_min_n"].sum() == pytest.approx(read(out / "all", "clips")["load_min_n"].sum())


def test_the_geopackage_keeps_count_and_index_when_a_gis_edits_it(both: "Estate", tmp_path: Path) -> None:
    """A post is added by the library: it is counted, and found by its place."""
    path = tmp_path / "estate.gpkg"
    shutil.copy(both.folder / "estate" / "all" / "gis" / "estate.gpkg", path)
    posts = pyogrio.read_dataframe(path, layer="posts")
    assert pyogrio.read_info(path, "posts", force_feature_count=False)["features"] == len(posts)
    moved = posts.iloc[:1].set_geometry(posts.geometry.iloc[:1].translate(5000.0, 5000.0))
    pyogrio.write_dataframe(moved, path, layer="posts", append=True)
    assert pyogrio.read_info(path, "posts", force_feature_count=False)["features"] == len(posts) + 1
    found = pyogrio.read_dataframe(path, layer="posts", bbox=tuple(moved.buffer(1.0).total_bounds))
    assert len(found) == 1


def test_only_what_changed_is_planned_anew(both: "Estate") -> None:
    """A cell under B02, then a setting of B02: B01's plan is not touched, nor read again for the sum."""
    out = both.folder / "estate"
    before = (out / "blocks" / "B01" / "run.json").stat().st_mtime_ns
    done = run(both, "--changed")
    assert done.exit_code == Exit.GOOD
    assert states(out) == {"B01": "unchanged", "B02": "unchanged"}
    with rasterio.open(both.folder / "ground.tif", "r+") as raster:
        heights = raster.read(1)
        there = Transformer.from_crs(both.scene.frame.crs, raster.crs, always_xy=True)
        row, column = raster.index(*there.transform(20.0, 0.0))
        heights[row, column] += 0.01
        raster.write(heights, 1)
    run(both, "--changed")
    assert states(out) == {"B01": "unchanged", "B02": "planned"}
    run(both, "--changed", more="[blocks.B02.rows]\nmin_length_m = 13.0\n")
    assert states(out) == {"B01": "unchanged", "B02": "planned"}
    shutil.rmtree(out / "blocks" / "B02")
    run(both, "--changed", more="[blocks.B02.rows]\nmin_length_m = 13.0\n")
    assert states(out) == {"B01": "unchanged", "B02": "planned"}
    assert (out / "blocks" / "B01" / "run.json").stat().st_mtime_ns == before


def test_a_plan_that_a_disk_has_damaged_is_made_anew(both: "Estate") -> None:
    """One byte of a layer is another: the sum over all blocks must not be made of it."""
    out = both.folder / "estate"
    layers = out / "blocks" / "B02" / "gis" / "plan.gpkg"
    whole = layers.read_bytes()
    layers.write_bytes(whole[:50_000] + bytes([whole[50_000] ^ 1]) + whole[50_001:])
    done = run(both, "--changed")
    assert done.exit_code == Exit.GOOD
    assert states(out) == {"B01": "unchanged", "B02": "planned"}
    assert layers.read_bytes() == whole


def test_some_blocks_only(both: "Estate") -> None:
    out = both.folder / "estate"
    done = run(both, "--blocks", "B02", "--overwrite")
    assert done.exit_code == Exit.GOOD
    assert states(out) == {"B01": "as it was", "B02": "planned"}
    old = out / "blocks" / "B01" / "schedule" / "posts.csv"
    old.write_bytes(old.read_bytes().replace(b"post_id,", b"post_no,", 1))
    for reason in (
        f"its plan is damaged: {old}: has been changed since it was written; plan it anew (--changed)",
        "its plan is of another version; plan it anew (--changed)",
    ):
        done = run(both, "--blocks", "B02", "--overwrite")
        assert done.exit_code == Exit.GOOD
        assert read(out / "all", "blocks").set_index("block_id").loc["B01", "reason"] == reason
        save_record(read_record(out / "blocks" / "B01"), out / "blocks" / "B01")
    done = run(both, "--blocks", "B02,Home")
    assert done.exit_code == Exit.BAD_INPUT
    assert "error: block.geojson: it has no block Home; there are B01, B02" in done.stderr


def test_a_block_off_the_raster_costs_itself_alone(make_estate: Callable[..., "Estate"]) -> None:
    made = make_estate(B01=LEFT, B02=FAR)
    done = run(made)
    assert done.exit_code == Exit.ELEVATION
    assert "error: block B02 is not planned: ground.tif: the block lies off the raster" in done.stderr
    blocks = read(made.folder / "estate" / "all", "blocks").set_index("block_id")
    assert dict(blocks["state"]) == {"B01": "planned", "B02": "missing"}
    assert "off the raster" in blocks["reason"].to_dict()["B02"]
    assert blocks.loc["B02"].isna()[["rows", "posts", "cost", "folder"]].all()


def test_what_stands_there_is_not_lost(both: "Estate") -> None:
    done = run(both)
    assert done.exit_code == Exit.USAGE
    assert "(--overwrite); or plan what is missing or changed only (--changed)" in done.stderr
    shutil.copytree(both.folder / "estate" / "blocks" / "B01", both.folder / "plan")
    done = run(both, "--overwrite", out="plan")
    assert done.exit_code == Exit.USAGE
    assert "holds a finished plan, not an estate; choose another folder" in done.stderr


def test_two_workers_and_one_that_is_killed(both: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    """The same bytes; a block that kills its process twice is missing, one that does so once is tried again."""
    out, config = both.folder / "estate", load_config(both.folder / "estate.toml")
    monkeypatch.setattr(estate, "_plan_here", _killed_once)
    made = api.plan_estate(config, both.folder / "again", ("gis", "map"), workers=2)
    assert [(done.block_id, done.state) for done in made.done] == [("B01", "planned"), ("B02", "planned")]
    assert _marker(both.folder / "again").exists()
    for path in sorted(path for path in out.rglob("*") if path.is_file()):
        assert path.read_bytes() == (both.folder / "again" / path.relative_to(out)).read_bytes(), path
    monkeypatch.setattr(estate, "_plan_here", _killed_always)
    made = api.plan_estate(config, both.folder / "lost", ("gis",), workers=2)
    assert [(done.block_id, done.state) for done in made.done] == [("B01", "planned"), ("B02", "missing")]
    assert "was ended from outside" in made.missing[0].reason
    assert made.missing[0].exit_code == Exit.OUR_FAULT


def _marker(target: Path) -> Path:
    return target.with_name(f"{target.name}-killed")


def _killed_once(block_id: str) -> estate.Done:
    (job,) = estate._JOB  # noqa: SLF001 - as a worker has it
    if block_id == "B02" and not _marker(job.target).exists():
        _marker(job.target).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return estate.plan_block(job, block_id)


def _killed_always(block_id: str) -> estate.Done:
    if block_id == "B02":
        os.kill(os.getpid(), signal.SIGKILL)
    return estate.plan_block(estate._JOB[0], block_id)  # noqa: SLF001


def test_folders_for_any_id() -> None:
    names = ["B01", "b01", "Home Block", "北坡", "a/b", "..", "CON", "x" * 50, "Mixed"]
    folders = [folder_of(name) for name in names]
    assert folders[:2] == ["B01", "b01"]
    assert len({folder.lower() for folder in folders[2:]}) == len(names) - 2
    assert all(folder.replace("-", "").replace("_", "").isalnum() and folder.isascii() for folder in folders)


def test_a_block_id_in_a_cell() -> None:
    assert csv_cell('a "b", c') == b'"a ""b"", c"'
    assert csv_cell("=1+1") == b"'=1+1"


def test_an_estate_without_a_single_plan(make_estate: Callable[..., "Estate"]) -> None:
    """Every block lies off the raster: they are named, and nothing is summed up that is not there."""
    made = make_estate(B01=FAR)
    done = run(made)
    assert done.exit_code == Exit.ELEVATION
    assert states(made.folder / "estate") == {"B01": "missing"}
    assert read(made.folder / "estate" / "all", "order").empty


def test_each_block_is_planned_or_missing_with_a_reason(make_estate: Callable[..., "Estate"]) -> None:
    """Faults of every kind among the blocks: each costs its own, and two runs end alike."""
    made = make_estate(
        Good=LEFT,
        Bow=[(6.0, -15.0), (40.0, 15.0), (40.0, -12.0), (6.0, 12.0)],
        Far=FAR,
        Sliver=[(-30.0, -5.0), (-29.0, -5.0), (-29.0, 20.0)],
        Short=[(-34.0, -12.0), (-24.0, -12.0), (-24.0, 0.0), (-34.0, 0.0)],
    )
    done = run(made)
    assert done.exit_code == Exit.BAD_INPUT
    assert "Traceback" not in done.stderr
    out = made.folder / "estate"
    blocks = read(out / "all", "blocks").set_index("block_id")
    assert dict(blocks["state"]) == {
        "Good": "planned",
        "Bow": "missing",
        "Far": "missing",
        "Sliver": "missing",
        "Short": "planned",
    }
    assert blocks.loc["Short", "rows"] == 0
    assert "crosses itself" in str(blocks.loc["Bow", "reason"])
    assert "below the least of 100 m2" in str(blocks.loc["Sliver", "reason"])
    assert "off the raster" in str(blocks.loc["Far", "reason"])
    assert sorted(path.name for path in (out / "blocks").iterdir()) == sorted(
        Path(folder).name for folder in blocks["folder"].dropna()
    )
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert run(made, "--overwrite").exit_code == Exit.BAD_INPUT
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before
