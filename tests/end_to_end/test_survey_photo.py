"""Rows from an orthophoto: alone, and beside a surface."""

import json
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from click.testing import CliRunner, Result
from numpy.typing import NDArray
from pyproj import Transformer
from wirerun import plan_file
from wirerun.cli import main
from wirerun.errors import InputError

from tests.unit.surface.scenes import CELL_M, Scene, vineyard

EAST, NORTH = 617_400.0, 4_562_000.0
SOIL, LEAVES = (100, 80, 55, 120), (25, 50, 20, 200)
WIRE = '\n[[wires]]\nid = "lower"\nkind = "foliage"\nheight_m = 1.2\nlines = 2\ntension_n = 300.0\n'


class Photo:
    """A vineyard of 60 by 50 m as a photo, its heights beside it."""

    def __init__(self, folder: Path) -> None:
        self.folder: Path = folder
        self.scene: Scene = vineyard(50.0, 60.0)
        rows, columns = self.scene.surface_m.shape
        self.corner = Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, NORTH + rows * CELL_M)
        leaf = self.scene.planted & (np.abs(self.scene.row - np.round(self.scene.row)) * 2.4 < 0.35)
        noise = np.random.default_rng(4).normal(0.0, 3.0, (4, rows, columns))
        colours = np.where(leaf, np.array(LEAVES)[:, None, None], np.array(SOIL)[:, None, None]) + noise
        self.colours: NDArray[np.uint8] = np.clip(colours, 1, 255).astype(np.uint8)
        self.write("photo.tif", self.colours[:3])
        self.write("nir.tif", self.colours, alpha="no", photometric="RGB")
        to_lonlat = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
        corners = [(3.0, 3.0), (56.0, 2.5), (56.0, 48.0), (3.5, 47.0), (3.0, 3.0)]
        ring = [list(to_lonlat.transform(EAST + x, NORTH + y)) for x, y in corners]
        feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
        (folder / "block.geojson").write_text(json.dumps(feature))

    def write(self, name: str, bands: NDArray[Any], **profile: Any) -> None:  # noqa: ANN401 - rasterio's options
        """Write a raster."""
        count, rows, columns = bands.shape
        whole = {"driver": "GTiff", "dtype": bands.dtype, "count": count, "height": rows, "width": columns}
        whole |= {"crs": "EPSG:32629", "transform": self.corner, **profile}
        with rasterio.open(self.folder / name, "w", **whole) as out:
            out.write(bands)

    def run(self, told: str, more: str = "") -> Result:
        """Run the command."""
        text = f'name = "photo"\n[block]\nboundary = "block.geojson"\n[survey]\n{told}\n{more}{WIRE}'
        (self.folder / "survey.toml").write_text(text)
        words = ["survey", str(self.folder / "survey.toml"), "--out", str(self.folder / "out"), "--overwrite"]
        return CliRunner().invoke(main, words)

    def said(self) -> Any:  # noqa: ANN401 - any JSON
        """Return survey.json."""
        return json.loads((self.folder / "out" / "survey.json").read_text())


@pytest.fixture
def photo(tmp_path: Path) -> Photo:
    """Return the photo."""
    return Photo(tmp_path)


@pytest.mark.parametrize(("file", "index"), [("photo.tif", "excess green"), ("nir.tif", "NDVI")])
def test_rows_alone(photo: Photo, file: str, index: str) -> None:
    done = photo.run(f'orthophoto = "{file}"')
    assert done.exit_code == 0, done.output
    out = photo.folder / "out"
    assert {path.name for path in out.iterdir()} == {
        *("rows.gpkg", "rows.geojson", "survey.json", "review.html", "plan.toml", "run.json")
    }
    said = photo.said()
    assert said["orthophoto"] == {"index": index}
    assert said["accuracy_m"] is said["correlation_m"] is said["noise_m"] is None
    assert said["spacing_m"] == pytest.approx(2.4, abs=0.005)
    assert said["blocks"][0]["rows_from"] == "orthophoto"
    assert [one["code"] for one in said["findings"]] == ["rows-found", "survey-no-heights"]
    rows = gpd.read_file(out / "rows.gpkg")
    assert not rows["doubtful"].any()
    off = []
    for line in rows.geometry:
        at = shapely.get_coordinates(shapely.segmentize(line, 0.5))
        turn = np.radians(62.0)
        place = ((at[:, 0] - EAST) * np.cos(turn) - (at[:, 1] - NORTH) * np.sin(turn)) / 2.4
        off.append(np.abs(place - np.round(place)) * 2.4)
    assert np.median(np.concatenate(off)) < 0.02
    assert np.quantile(np.concatenate(off), 0.95) < 0.08


def test_the_plan_asks_for_the_ground_that_is_missing(photo: Photo) -> None:
    done = photo.run('orthophoto = "photo.tif"')
    assert done.exit_code == 0
    plan = photo.folder / "out" / "plan.toml"
    words = " ".join(done.output.split())
    assert f"Missing: the ground; name a raster of it under [elevation] in {plan} Then: wirerun plan {plan}" in words
    assert "An orthophoto has no heights" in plan.read_text()
    with pytest.raises(InputError) as caught:
        plan_file(plan)
    assert "elevation.raster" in str(caught.value)
    # With a ground of the user's own it goes on as it is.
    photo.write("own.tif", photo.scene.ground_m[None].astype(np.float32))
    done = photo.run('orthophoto = "photo.tif"', '[elevation]\nraster = "own.tif"\n')
    assert done.exit_code == 0
    assert "Missing" not in done.output
    made = plan_file(plan)
    assert made.config.elevation.raster == "../own.tif"
    found = gpd.read_file(photo.folder / "out" / "rows.gpkg")
    assert made.rows["length_m"].sum() == pytest.approx(found.length[found.length > 12.0].sum(), rel=0.1)


def test_of_surface_and_photo_the_better_is_taken(photo: Photo) -> None:
    """The surface while it shows the rows; the photo where it shows nothing but ground."""
    photo.write("surface.tif", photo.scene.surface_m[None].astype(np.float32))
    assert photo.run('surface = "surface.tif"\northophoto = "photo.tif"').exit_code == 0
    (block,) = photo.said()["blocks"]
    assert block["rows_from"] == "surface"
    assert block["trusted_m_in_the_other"] > 0.5 * photo.said()["row_length_m"]
    photo.write("bare.tif", photo.scene.ground_m[None].astype(np.float32))
    assert photo.run('surface = "bare.tif"\northophoto = "photo.tif"').exit_code == 0
    (block,) = photo.said()["blocks"]
    assert block["rows_from"] == "orthophoto"
    assert block["trusted_m_in_the_other"] == 0.0
    assert (photo.folder / "out" / "ground.tif").exists()


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ("", "survey.surface: missing; name the surface raster here"),
        ('orthophoto = "none.tif"', "none.tif: there is no such file"),
        ('orthophoto = "block.geojson"', "block.geojson: this is no GeoTIFF; an orthophoto is one"),
        ('orthophoto = "grey.tif"', "grey.tif: it has 1 band of colour; wanted are 3 (red, green, blue)"),
        ('orthophoto = "far.tif"', "far.tif: it shows another place: no block of the boundary lies on it"),
        ('orthophoto = "nowhere.tif"', "nowhere.tif: it names no CRS that ties it to the earth"),
        ('orthophoto = "torn.tif"', "torn.tif: "),
    ],
)
def test_refusals(photo: Photo, told: str, sentence: str) -> None:
    photo.write("grey.tif", photo.colours[:1])
    photo.write("far.tif", photo.colours[:3], transform=Affine.translation(5000.0, 0.0) * photo.corner)
    photo.write("nowhere.tif", photo.colours[:3], crs=None)
    whole = (photo.folder / "photo.tif").read_bytes()
    (photo.folder / "torn.tif").write_bytes(whole[: len(whole) // 3])
    done = photo.run(told)
    assert done.exit_code == 3, done.output
    assert sentence in " ".join(done.output.split())
    assert not (photo.folder / "out").exists()
