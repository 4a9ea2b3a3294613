"""Posts of an existing trellis, from a survey of dormant vines to a plan on them."""

import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import rasterio
from affine import Affine
from click.testing import CliRunner
from pyproj import CRS, Transformer
from wirerun import plan_file
from wirerun.cli import main

from tests.unit.surface.scenes import dormant, dormant_points

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
    return surveyed(folder, 'surface = "surface.tif"')


def survey_cloud(folder: Path, per_m2: float, *, posts: bool, classified: bool) -> Path:
    """Write a cloud of a dormant vineyard and survey it."""
    laspy = pytest.importorskip("laspy")
    seen = dormant_points(per_m2, posts=posts)
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.offsets, header.scales = [EAST, NORTH, 0.0], [0.001] * 3
    header.add_crs(CRS("EPSG:32629+5773"))
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = (seen.places + np.array([EAST, NORTH, 0.0])).T
    cloud.classification = np.where(seen.off_ground, 1, 2 if classified else 1).astype(np.uint8)
    cloud.write(folder / "cloud.laz")
    return surveyed(folder, 'points = "cloud.laz"\ngrass_height_m = 0.0')


def surveyed(folder: Path, told: str) -> Path:
    """Survey what a config is told of."""
    to_lonlat = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
    corners = [(2.0, 2.0), (48.0, 2.0), (48.0, 38.0), (2.0, 38.0), (2.0, 2.0)]
    ring = [list(to_lonlat.transform(EAST + x, NORTH + y)) for x, y in corners]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "block.geojson").write_text(json.dumps(feature))
    text = f'name = "old"\n[block]\nboundary = "block.geojson"\n[survey]\n{told}\n'
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


@pytest.mark.parametrize("classified", [True, False])
def test_posts_and_rows_in_a_cloud(tmp_path: Path, *, classified: bool) -> None:
    """What stands is told by the highest points, also where those of the ground alone are classified."""
    out = survey_cloud(tmp_path, 600.0, posts=True, classified=classified)
    said = json.loads((out / "survey.json").read_text())
    assert said["rows"] == 13
    posts = gpd.read_file(out / "posts.geojson").to_crs("EPSG:32629")
    at = np.column_stack([posts.geometry.x - EAST, posts.geometry.y - NORTH])
    true = dormant().posts
    far = np.hypot(*(at[:, None] - true[None]).transpose(2, 0, 1))
    assert (far.min(axis=1) < 0.15).all()
    assert len(set(far.argmin(axis=1))) == len(at) >= 0.97 * len(true)
    assert np.median(far.min(axis=1)) < 0.03
    assert said["blocks"][0]["post_spacing_m"] == pytest.approx(5.0, abs=0.05)


def test_a_cloud_without_posts_or_too_thin_for_them_has_none(tmp_path: Path) -> None:
    for name, per_m2, posts in (("none", 600.0, False), ("thin", 20.0, True)):
        (tmp_path / name).mkdir()
        out = survey_cloud(tmp_path / name, per_m2, posts=posts, classified=True)
        assert not (out / "posts.geojson").exists(), name
        said = json.loads((out / "survey.json").read_text())
        assert [one["code"] for one in said["findings"]].count("posts-not-found") == (said["rows"] > 0), name
