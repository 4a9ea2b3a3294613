"""Posts of an existing trellis, from a survey of dormant vines to a plan on them."""

import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from affine import Affine
from click.testing import CliRunner
from pyproj import Transformer
from wirerun import plan_file
from wirerun.cli import main

from tests.unit.surface.scenes import dormant

CELL_M = 0.05
EAST, NORTH = 617_400.0, 4_562_000.0
WIRES = """
[[wires]]
id = "lower"
kind = "foliage"
height_m = 1.2
lines = 2
tension_n = 300.0
"""


def survey(folder: Path, *, posts: bool) -> Path:
    """Write a dormant vineyard and survey it."""
    surface = dormant(posts=posts).surface_m.astype(np.float32)
    rows, columns = surface.shape
    corner = Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, NORTH + rows * CELL_M)
    profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "height": rows, "width": columns, "transform": corner}
    with rasterio.open(folder / "surface.tif", "w", **profile, crs="EPSG:32629") as out:
        out.write(surface, 1)
        out.units = ["metre"]
    to_lonlat = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
    corners = [(2.0, 2.0), (48.0, 2.0), (48.0, 38.0), (2.0, 38.0), (2.0, 2.0)]
    ring = [list(to_lonlat.transform(EAST + x, NORTH + y)) for x, y in corners]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "block.geojson").write_text(json.dumps(feature))
    text = 'name = "old"\n[block]\nboundary = "block.geojson"\n[survey]\nsurface = "surface.tif"\n'
    (folder / "survey.toml").write_text(text + WIRES)
    done = CliRunner().invoke(main, ["survey", str(folder / "survey.toml"), "--out", str(folder / "out")])
    assert done.exit_code == 0, done.output
    return folder / "out"


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the survey of a vineyard with posts."""
    return survey(tmp_path_factory.mktemp("dormant"), posts=True)


def test_posts_are_found_where_they_stand(found: Path) -> None:
    posts = gpd.read_file(found / "posts.geojson").to_crs("EPSG:32629")
    at = np.column_stack([posts.geometry.x - EAST, posts.geometry.y - NORTH])
    true = dormant().posts
    far = np.hypot(*(at[:, None] - true[None]).transpose(2, 0, 1))
    assert (far.min(axis=1) < 0.1).all()
    assert len(set(far.argmin(axis=1))) == len(at) >= 0.95 * len(true)
    assert np.median(far.min(axis=1)) < 0.03
    assert list(posts["name"].str.partition("-")[0].astype(int)) == list(posts["row"])
    said = json.loads((found / "survey.json").read_text())
    assert said["posts"] == len(posts)
    assert said["doubtful_posts"] == int(posts["doubtful"].sum())
    assert said["blocks"][0]["post_spacing_m"] == pytest.approx(5.0, abs=0.05)


def test_a_plan_stands_on_them_when_its_config_is_told_so(found: Path) -> None:
    """As the head of plan.toml says: the lines that stand there behind a sign, without it."""
    text = (found / "plan.toml").read_text()
    told = [line[4:] for line in text.splitlines() if line.startswith("#   ")]
    assert told == ["[posts]", 'placing = "given"', 'points = "posts.geojson"', "[standing]", "posts = true"]
    assert plan_file(found / "plan.toml").config.posts.placing == "equal"
    (found / "standing.toml").write_text(text + "\n" + "\n".join(told) + "\n")
    made = plan_file(found / "standing.toml")
    posts = gpd.read_file(found / "posts.geojson")
    assert len(made.posts) == len(posts)
    assert (made.posts["standing"] == "yes").all()
    assert np.median(made.spans["horizontal_m"].to_numpy()) == pytest.approx(5.0, abs=0.3)


def test_where_there_are_none_none_are_made_up(tmp_path: Path) -> None:
    out = survey(tmp_path, posts=False)
    assert not (out / "posts.geojson").exists()
    said = json.loads((out / "survey.json").read_text())
    assert said["rows"] == 13
    assert said["posts"] == 0
    assert [one["code"] for one in said["findings"] if one["code"].startswith("posts")] == ["posts-not-found"]
    assert "posts.geojson" not in (out / "plan.toml").read_text()
