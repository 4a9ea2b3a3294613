"""Objects in, objects out: the same plan from arrays, datasets and frames as from files, and the same sentences."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import rasterio
import rioxarray  # noqa: F401 - gives arrays their CRS
import shapely
import wirerun
import xarray
from affine import Affine
from rasterio.io import MemoryFile
from wirerun.api import plan_config

CRS = "EPSG:25829"
CORNER = Affine(0.5, 0.0, 600_000.0, 0.0, -0.5, 4_560_110.0)
BLOCK = shapely.box(600_012.0, 4_560_012.0, 600_110.0, 4_560_090.0)
SETTINGS: dict[str, Any] = {"name": "hill", "rows": {"bearing_deg": 80.0, "spacing_m": 2.4}}


def hill(rows: int = 220, columns: int = 260) -> np.ndarray:
    """Ground that is lopsided on purpose: no turned or mirrored axis gives the same."""
    row, column = np.mgrid[0:rows, 0:columns]
    return np.asarray(300.0 + 0.04 * column + 0.011 * row + 0.5 * np.sin(column / 17.0) + 0.2 * np.cos(row / 9.0))


@pytest.fixture(scope="module")
def from_files(tmp_path_factory: pytest.TempPathFactory) -> wirerun.Plan:
    """The plan as a user of the command gets it."""
    folder = tmp_path_factory.mktemp("files")
    gpd.GeoDataFrame(geometry=[BLOCK], crs=CRS).to_file(folder / "block.gpkg", driver="GPKG")
    with rasterio.open(folder / "ground.tif", "w", **profile()) as out:
        out.write(hill(), 1)
    config = f'name = "hill"\n[block]\nboundary = "block.gpkg"\n[elevation]\nraster = "{folder / "ground.tif"}"\n'
    (folder / "hill.toml").write_text(config + "[rows]\nbearing_deg = 80.0\nspacing_m = 2.4\n")
    return wirerun.plan_file(folder / "hill.toml")


def profile() -> dict[str, Any]:
    rows, columns = hill().shape
    size = {"height": rows, "width": columns, "count": 1, "dtype": "float64"}
    return {"driver": "GTiff", **size, "crs": CRS, "transform": CORNER, "nodata": -9999.0}


def same(one: wirerun.Plan, other: wirerun.Plan) -> None:
    """Every table is the same to the last digit; findings name other files."""
    for name, table in one.tables.items():
        if name != "findings":
            pd.testing.assert_frame_equal(pd.DataFrame(table), pd.DataFrame(other.tables[name]))


def test_an_array_with_its_transform(from_files: wirerun.Plan) -> None:
    made = wirerun.plan((BLOCK, CRS), (hill(), CORNER, CRS), SETTINGS)
    assert len(made.posts) > 300
    same(made, from_files)


def test_a_frame_and_a_data_array(from_files: wirerun.Plan) -> None:
    columns = 600_000.25 + 0.5 * np.arange(260)
    rows = 4_560_109.75 - 0.5 * np.arange(220)
    array = xarray.DataArray(hill(), {"y": rows, "x": columns}, ("y", "x")).rio.write_crs(CRS)
    frame = gpd.GeoDataFrame({"odd": [["a list that no file can hold"]]}, geometry=[BLOCK], crs=CRS)
    same(wirerun.plan(frame, array, SETTINGS), from_files)


def test_an_open_dataset_in_memory_and_one_on_disk(from_files: wirerun.Plan, tmp_path: Path) -> None:
    with MemoryFile() as memory:
        with memory.open(**profile()) as out:
            out.write(hill(), 1)
        with memory.open() as dataset:
            same(wirerun.plan((BLOCK, CRS), dataset, SETTINGS), from_files)
    with rasterio.open(tmp_path / "g.tif", "w", **profile()) as out:
        out.write(hill(), 1)
    with rasterio.open(tmp_path / "g.tif") as dataset:
        made = wirerun.plan((BLOCK, CRS), dataset, SETTINGS)
        assert dataset.read(1).shape == (220, 260)  # still open
    same(made, from_files)


def test_missing_heights_stay_missing() -> None:
    holed = hill()
    holed[60:64, 100:104] = np.nan
    made = wirerun.plan((BLOCK, CRS), (holed, CORNER, CRS), SETTINGS)
    assert "hole-bridged" in set(made.findings["code"])


def test_blocks_are_named_by_their_column() -> None:
    left, right = (
        shapely.box(600_012, 4_560_012, 600_055, 4_560_090),
        shapely.box(600_060, 4_560_012, 600_110, 4_560_090),
    )
    frame = gpd.GeoDataFrame({"plot": ["Alto", "Baixo"]}, geometry=[left, right], crs=CRS)
    made = wirerun.plan(frame, (hill(), CORNER, CRS), SETTINGS | {"block": {"id_field": "plot"}})
    assert made.blocks["block_id"].tolist() == ["Alto", "Baixo"]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"blocks": gpd.GeoDataFrame(geometry=[BLOCK])}, "blocks: they have no CRS; set one with set_crs"),
        ({"blocks": gpd.GeoDataFrame(geometry=[], crs=CRS)}, "blocks: there is none"),
        ({"blocks": (BLOCK, "nowhere")}, "blocks: 'nowhere' is no CRS"),
        ({"blocks": (shapely.LineString([(0, 0), (1, 1)]), CRS)}, "blocks, feature 1: it is a LineString"),
        ({"heights": (np.zeros((3, 4, 5)), CORNER, CRS)}, "heights: an array of two dimensions of numbers is wanted"),
        ({"heights": (hill(), CORNER, None)}, "heights: None is no CRS"),
        ({"heights": (hill(20, 20), CORNER, CRS)}, "heights, block B01:"),
        ({"config": {"rows": {"bearing_deg": 80.0}}}, "config, rows.spacing_m"),
        ({"config": SETTINGS | {"rows": SETTINGS["rows"] | {"headland": 3.0}}}, "config, rows.headland"),
    ],
)
def test_faults_are_sentences(change: dict[str, Any], says: str) -> None:
    given: dict[str, Any] = {"blocks": (BLOCK, CRS), "heights": (hill(), CORNER, CRS), "config": SETTINGS} | change
    with pytest.raises(wirerun.InputError) as caught:
        wirerun.plan(**given)
    assert str(caught.value).startswith(says)
    assert "/" not in str(caught.value).split(":")[0]


def test_a_plan_writes_itself_and_leaves_a_plan_alone(from_files: wirerun.Plan, tmp_path: Path) -> None:
    folder = from_files.write(tmp_path / "out", only=["schedule"])
    assert json.loads((folder / "run.json").read_text())["name"] == "hill"
    assert not (folder / "map.html").exists()
    with pytest.raises(wirerun.TargetError):
        from_files.write(tmp_path / "out")
    from_files.write(tmp_path / "out", only=["map"], overwrite=True)
    assert (folder / "map.html").read_bytes() == page(from_files, tmp_path)


def page(plan: wirerun.Plan, folder: Path) -> bytes:
    plan.map().save(str(folder / "again.html"))
    return (folder / "again.html").read_bytes()


def test_what_was_planned_from_objects_can_be_recorded(tmp_path: Path) -> None:
    made = wirerun.plan((BLOCK, CRS), (hill(), CORNER, CRS), SETTINGS)
    record = json.loads((made.write(tmp_path / "out", only=["schedule"]) / "run.json").read_text())
    assert [(one["role"], one["path"]) for one in record["inputs"]][:2] == [
        ("boundary", "blocks"),
        ("raster", "heights"),
    ]
    assert str(tmp_path) not in json.dumps(record)


def test_the_version_is_that_of_the_project() -> None:
    assert wirerun.__version__[0].isdigit()
    assert {"plan", "plan_file", "Plan", "InputError"} <= set(wirerun.__all__)
    with pytest.raises(AttributeError, match="no attribute 'plans'"):
        _ = wirerun.plans


def test_a_scene_plans_alike_by_config(make_scene: Callable[..., Any]) -> None:
    scene = make_scene(
        lambda x, y: 300.0 + 0.05 * x + 0.0 * y, [(-30.0, -20.0), (30.0, -20.0), (30.0, 20.0), (-30.0, 20.0)]
    )
    assert len(plan_config(scene.config()).rows) > 10


def test_a_block_in_which_no_row_fits_is_planned_without_any() -> None:
    made = wirerun.plan(
        (shapely.box(600_010.0, 4_560_010.0, 600_028.0, 4_560_028.0), "EPSG:25829"),
        (np.full((220, 260), 300.0), Affine(0.5, 0.0, 600_000.0, 0.0, -0.5, 4_560_110.0), "EPSG:25829"),
        {"name": "hill", "rows": {"bearing_deg": 20.0, "spacing_m": 4.0}},
    )
    assert len(made.rows) == 0
    assert "no-rows" in set(made.findings["code"])
