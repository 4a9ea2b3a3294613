"""A survey as a user runs it: from a surface with vines in it to ground and rows, and on to a plan."""

import hashlib
import json
import sys
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from affine import Affine
from click.testing import CliRunner, Result
from pyproj import Transformer
from wirerun import plan_file
from wirerun.cli import main
from wirerun.read import survey_size
from wirerun.surface import work_grid

from tests.unit.surface.scenes import CELL_M, vineyard

ROOT = Path(__file__).parents[2]
CONFIG = ROOT / "configs" / "encosta_nova_survey.toml"
EAST, NORTH = 617_400.0, 4_562_000.0


def survey(config: Path, out: Path, *words: str) -> Result:
    return CliRunner().invoke(main, ["survey", str(config), "--out", str(out), *words])


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the sample survey."""
    out = tmp_path_factory.mktemp("survey") / "old"
    done = survey(CONFIG, out)
    assert done.exit_code == 0, done.output
    assert "23 rows" in done.output
    assert "wirerun plan" in done.output
    return out


def test_every_promised_file_is_there(result: Path) -> None:
    names = {path.name for path in result.iterdir()}
    assert names == {
        *("ground.tif", "difference.tif", "confidence.tif", "rows.gpkg", "rows.geojson", "survey.json", "review.html"),
        *("plan.toml", "run.json"),
    }
    for name in ("ground.tif", "difference.tif", "confidence.tif"):
        with rasterio.open(result / name) as raster:
            # As the library's own driver for cloud-optimised GeoTIFFs marks them.
            assert raster.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
            assert raster.crs.to_epsg() == 25829
            assert raster.res == (0.1, 0.1)
            assert raster.nodata == -9999.0


def test_the_ground_is_that_of_the_estate(result: Path) -> None:
    """Against the formula that the sample was made with."""
    sys.path.insert(0, str(ROOT / "sample_data" / "encosta_nova"))
    try:
        from make import ground_height, to_own_plane  # noqa: PLC0415 - a script, not a package
        from make_survey import inside  # noqa: PLC0415 - a script, too
    finally:
        sys.path.pop(0)
    with rasterio.open(result / "ground.tif") as raster:
        ground = raster.read(1, masked=True)
        column, row = np.meshgrid(np.arange(raster.width) + 0.5, np.arange(raster.height) + 0.5)
        u, w = to_own_plane(*(raster.transform * (column, row)))
    off = (ground - ground_height(u, w))[inside(u, w)]
    assert off.count() / off.size > 0.999
    # Grass of 4 cm is taken off; the rest is the survey's own 2.3 cm and the filter.
    assert float(off.mean()) == pytest.approx(0.0, abs=0.01)
    assert float(off.std()) < 0.03


def test_the_report_says_how_good_it_is(result: Path) -> None:
    said = json.loads((result / "survey.json").read_text())
    assert said["spacing_m"] == pytest.approx(2.2, abs=0.003)
    assert said["check_points"]["n"] == 14
    assert said["check_points"]["bias_m"] == pytest.approx(0.0, abs=0.012)
    assert 0.01 < said["accuracy_m"] < 0.035
    assert said["rows"] == 23
    assert said["cells"]["void"] == 0
    assert said["posts"] == said["blocks"][0]["posts"] == 0  # they are in leaf
    assert [one["code"] for one in said["findings"]].count("posts-not-found") == 1
    assert said["assumed"][0].startswith("14 check points")
    record = json.loads((result / "run.json").read_text())
    assert {one["role"] for one in record["inputs"]} == {"boundary", "surface", "check points"}


def test_rows_lie_on_the_vines(result: Path) -> None:
    rows = gpd.read_file(result / "rows.gpkg", layer="rows")
    assert list(rows["row"]) == list(range(1, 24))
    assert not rows["doubtful"].any()
    assert rows["confidence"].between(0.7, 1.0).all()
    lonlat = gpd.read_file(result / "rows.geojson")
    assert rows.crs is not None
    moved = lonlat.to_crs(rows.crs)
    assert max(a.hausdorff_distance(b) for a, b in zip(rows.geometry, moved.geometry, strict=True)) < 0.001


def test_a_plan_goes_on_from_it(result: Path) -> None:
    made = plan_file(result / "plan.toml")
    assert len(made.rows) == 22  # one is under rows.min_length_m = 12
    assert made.config.elevation.accuracy_m == json.loads((result / "survey.json").read_text())["accuracy_m"]
    found = gpd.read_file(result / "rows.gpkg").to_crs("EPSG:25829")
    # Rows that stand keep their ends.
    assert made.rows["length_m"].sum() == pytest.approx(found.length.sum(), rel=0.01)
    assert made.config.rows.spacing_m == 2.2


# A small survey of its own, in one raster and in tiles.
class Small:
    """A vineyard of 50 by 40 m in files."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.scene = folder, vineyard()
        self.write("surface.tif", slice(None), slice(None))
        rows, columns = self.scene.surface_m.shape
        corners = [(3.0, 3.0), (46.0, 2.5), (46.0, 38.0), (3.5, 37.0), (3.0, 3.0)]
        to_lonlat = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
        ring = [list(to_lonlat.transform(EAST + x, NORTH + y)) for x, y in corners]
        feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
        (folder / "block.geojson").write_text(json.dumps(feature))
        self.shape = rows, columns

    def write(self, name: str, rows: slice, columns: slice, surface: Any = None) -> None:  # noqa: ANN401 - heights
        """Write a part of the surface."""
        heights = (self.scene.surface_m if surface is None else surface)[rows, columns]
        north = NORTH + self.scene.surface_m.shape[0] * CELL_M
        corner = Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, north) * Affine.translation(
            columns.start or 0, rows.start or 0
        )
        profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "height": heights.shape[0], "crs": "EPSG:32629"}
        with rasterio.open(self.folder / name, "w", **profile, width=heights.shape[1], transform=corner) as out:
            out.write(heights.astype(np.float32), 1)
            out.units = ["metre"]

    def run(self, surface: str, out: str, more: str = "") -> Result:
        """Run the command."""
        text = f'name = "small"\n[block]\nboundary = "block.geojson"\n[survey]\nsurface = {surface}\n{more}'
        (self.folder / "survey.toml").write_text(text)
        return survey(self.folder / "survey.toml", self.folder / out, "--overwrite")


@pytest.fixture
def small(tmp_path: Path) -> Small:
    """Return the small survey."""
    return Small(tmp_path)


def prints(folder: Path) -> dict[str, str]:
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir() if path.name != "run.json"
    }


def test_tiles_and_runs_change_nothing(small: Small) -> None:
    assert small.run('"surface.tif"', "one").exit_code == 0
    again = prints(small.folder / "one")
    assert small.run('"surface.tif"', "one").exit_code == 0
    assert prints(small.folder / "one") == again
    (small.folder / "tiles").mkdir()
    for number, (rows, columns) in enumerate(
        (rows, columns) for rows in (slice(0, 170), slice(170, 400)) for columns in (slice(0, 333), slice(333, 500))
    ):
        small.write(f"tiles/{number}.tif", rows, columns)
    assert small.run('"tiles"', "cut").exit_code == 0
    cut = prints(small.folder / "cut")
    assert {name for name in again if again[name] != cut[name]} <= {"review.html"}


def test_without_check_points_the_accuracy_is_assumed(small: Small) -> None:
    done = small.run('"surface.tif"', "out", "noise_m = 0.04\ngrass_m = 0.03\n")
    assert "which is assumed: there are no check points" in " ".join(done.output.split())
    said = json.loads((small.folder / "out" / "survey.json").read_text())
    assert said["accuracy_m"] == pytest.approx(0.05)
    assert said["check_points"] is None


@pytest.mark.parametrize(
    ("surface", "more", "code", "sentence"),
    [
        ('"nine.tif"', "", 3, "nine.tif: there is no such file"),
        ('"surface.tif"', 'points = "a.las"\n', 3, "survey: surface and points are both given"),
        ('"surface.tif"', "least_spacing_m = 5.0\n", 3, "5 is not below most_spacing_m = 4.2"),
        ('"surface.tif"', 'check_points = "block.geojson"\n', 3, "block.geojson, feature 1: it is a Polygon"),
        ('"far.tif"', "", 4, "far.tif, block B01: the block lies off the raster"),
        ('"coarse.tif"', "", 3, "cells of 1 m show no vines; at most 0.5 m will do"),
        ('"degrees.tif"', "", 3, "a survey wants square cells in a projected CRS"),
    ],
)
def test_refusals(small: Small, surface: str, more: str, code: int, sentence: str) -> None:
    small.write("far.tif", slice(0, 40), slice(0, 40))
    with rasterio.open(small.folder / "surface.tif") as raster:
        profile, data = raster.profile, raster.read()
    far = Affine.translation(5000.0, 0.0) * profile["transform"]
    changed = {
        "far.tif": {**profile, "transform": far},
        "coarse.tif": {**profile, "transform": profile["transform"] * Affine.scale(10.0)},
        "degrees.tif": {**profile, "crs": "EPSG:4326", "transform": Affine(1e-5, 0, -7.6, 0, -1e-5, 41.205)},
    }
    for name, other in changed.items():
        with rasterio.open(small.folder / name, "w", **other) as out:
            out.write(data)
    done = small.run(surface, "out", more)
    assert done.exit_code == code, done.output
    assert sentence in " ".join(done.output.split())
    assert not (small.folder / "out").exists()


def test_a_surface_must_be_named(small: Small) -> None:
    (small.folder / "survey.toml").write_text('name = "small"\n[block]\nboundary = "block.geojson"\n[survey]\n')
    done = survey(small.folder / "survey.toml", small.folder / "out")
    assert done.exit_code == 3
    assert "survey.surface: missing; name the surface raster here" in " ".join(done.output.split())


def test_ground_without_rows_is_told(small: Small) -> None:
    row, column = np.indices(small.shape)
    small.write("bare.tif", slice(None), slice(None), 300.0 + 0.02 * column + 0.01 * row)
    done = small.run('"bare.tif"', "out")
    assert done.exit_code == 0, done.output
    assert "No rows were found" in done.output
    assert not (small.folder / "out" / "plan.toml").exists()
    assert (small.folder / "out" / "ground.tif").exists()


def test_holes_and_another_height_system_are_told(small: Small) -> None:
    to_lonlat = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
    lines = ["id,lon,lat,height"]
    for number, (x, y) in enumerate([(10.0, 10.0), (20.0, 30.0), (35.0, 15.0), (300.0, 10.0)]):
        lon, lat = to_lonlat.transform(EAST + x, NORTH + y)
        row = min(int((40.0 - y) / CELL_M), 399)
        ground = small.scene.ground_m[row, min(int(x / CELL_M), 499)]
        lines.append(f"P{number},{lon:.9f},{lat:.9f},{ground - 51.3:.3f}")
    lines.append(lines[2].replace("P1", "P1 again"))
    (small.folder / "check.csv").write_text("\n".join(lines) + "\n")
    done = small.run('"surface.tif"', "out", 'check_points = "check.csv"\n')
    assert done.exit_code == 0, done.output
    words = " ".join(done.output.split())
    assert "one of the two has heights above the ellipsoid" in words
    assert "P3 lie where no ground was made; P1 again measured a second time" in words
    assert json.loads((small.folder / "out" / "survey.json").read_text())["check_points"]["n"] == 3


def test_of_a_block_that_is_half_seen_rows_are_found_where_it_was(small: Small) -> None:
    """The numbers are those of the rows, not of what nobody saw; rows that end there are marked, the others are not."""
    half = small.scene.surface_m.copy()
    half[:, 300:] = np.nan
    small.write("half.tif", slice(None), slice(None), half)
    done = small.run('"half.tif"', "out")
    assert done.exit_code == 0, done.output
    words = " ".join(done.output.split())
    assert "% of the block has heights; the biggest part without lies in the east" in words
    assert "2.40" in words.split(" m apart")[0][-6:]
    assert "turning" not in words
    assert "They stand low" not in words
    assert "ends where the survey ends, within the block" in words
    rows = gpd.read_file(small.folder / "out" / "rows.gpkg")
    edge = EAST + 30.0
    assert rows.geometry.bounds["maxx"].max() < edge + 0.5
    at_edge = rows.geometry.bounds["maxx"] > edge - 0.7
    assert list(rows["doubtful"]) == list(at_edge)
    assert at_edge.sum() > 5
    assert (~at_edge).sum() > 2
    assert set(rows["why"]) == {"", "ends where the survey ends, within the block"}
    said = json.loads((small.folder / "out" / "survey.json").read_text())
    assert said["doubtful_rows"] == at_edge.sum()
    # Shares are those of the block, not of the ground round it.
    assert said["cells"]["void"] / sum(said["cells"].values()) == pytest.approx(0.37, abs=0.03)


def test_tiles_of_the_work_change_nothing(small: Small, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nine tiles instead of one for all, with a hole and a tree: rows to the byte, heights to a step of rounding.

    Under the tree ground is filled from farther off than a tile's margin: a few cells round the other way.
    """
    surface = small.scene.surface_m.copy()
    surface[120:160, 200:240] += 4.0
    surface[300:330, 100:150] = np.nan
    small.write("surface.tif", slice(None), slice(None), surface)
    assert small.run('"surface.tif"', "whole").exit_code == 0
    whole = prints(small.folder / "whole")
    monkeypatch.setattr(work_grid, "_TILE_CELLS", 250)
    assert small.run('"surface.tif"', "tiles").exit_code == 0
    cut = prints(small.folder / "tiles")
    assert {name for name in whole if whole[name] != cut[name]} <= {"ground.tif", "difference.tif", "review.html"}
    for name in ("ground.tif", "difference.tif"):
        one, other = (rasterio.open(small.folder / folder / name).read(1) for folder in ("whole", "tiles"))
        assert np.abs(one - other).max() <= 1.0 / 8192.0
        assert np.count_nonzero(one != other) < 1e-4 * one.size


@pytest.mark.parametrize(
    ("memory", "disk", "sentence"),
    [
        (1.2e9, 1e12, "this machine has 1.2 GB of memory; survey fewer blocks at once"),
        (1e12, 1e6, "0.0 GB are free where the result"),
    ],
)
def test_a_survey_too_large_is_refused_before_it_starts(
    small: Small, monkeypatch: pytest.MonkeyPatch, memory: float, disk: float, sentence: str
) -> None:
    monkeypatch.setattr(survey_size, "memory_there", lambda: memory)
    monkeypatch.setattr("wirerun.survey.room_at", lambda _folder: disk)
    done = small.run('"surface.tif"', "out")
    assert done.exit_code == 3, done.output
    words = " ".join(done.output.split()).replace("\u202f", " ")
    assert "block.geojson: the survey needs about 300 000 cells of ground, 1.5 GB of memory, 0.0 GB of disk" in words
    assert sentence in words
    assert [path.name for path in small.folder.iterdir() if path.is_dir()] == []
