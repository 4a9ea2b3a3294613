"""A real 1 m bare-earth lidar raster, end to end.

Source: `lidar/data/dem.tif` in the wheel of lidar 0.8.4 on PyPI (400 m by 400 m, EPSG:26915, slopes 4 to 42 %). The
wheel is downloaded into pytest's cache and read as a zip file; the package is never imported or installed.
"""

import hashlib
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rasterio
from pyproj import Transformer
from wirerun import plan_config
from wirerun.settings import Config

SHA256 = "c0f525ea2f1ab78becf64dabdc0ba386de34c092151a95d463ae9b6cd74154f4"


@pytest.fixture(scope="session")
def lidar_raster(request: pytest.FixtureRequest) -> Path:
    folder = request.config.cache.mkdir("lidar")
    raster = folder / "dem.tif"
    if not raster.exists():
        command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--only-binary", ":all:", "lidar==0.8.4"]
        done = subprocess.run([*command, "-d", str(folder)], capture_output=True, text=True, check=False)  # noqa: S603
        if done.returncode and not os.environ.get("CI"):
            pytest.skip("the lidar raster could not be downloaded: no network?")
        assert done.returncode == 0, done.stderr
        wheel = next(folder.glob("lidar-*.whl"))
        with zipfile.ZipFile(wheel) as packed:
            raster.write_bytes(packed.read("lidar/data/dem.tif"))
        wheel.unlink()
    assert hashlib.sha256(raster.read_bytes()).hexdigest() == SHA256
    return raster


def test_a_block_on_real_ground(lidar_raster: Path, tmp_path: Path) -> None:
    with rasterio.open(lidar_raster) as raster:
        heights, transform = raster.read(1), raster.transform
    # An uneven block inside the raster, given in the raster's own CRS.
    corners = [(60, 80), (330, 60), (350, 210), (280, 340), (120, 320), (70, 200), (60, 80)]
    places = [transform * corner for corner in corners]
    to_lonlat = Transformer.from_crs("EPSG:26915", "OGC:CRS84", always_xy=True)
    ring = ", ".join(f"[{lon}, {lat}]" for lon, lat in (to_lonlat.transform(*place) for place in places))
    (tmp_path / "block.geojson").write_text(
        f'{{"type": "Feature", "properties": {{}}, "geometry": {{"type": "Polygon", "coordinates": [[{ring}]]}}}}'
    )
    config = Config.model_validate(
        {
            "name": "lidar",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": str(lidar_raster), "accuracy_m": 0.1, "height_unit": "m"},
            "rows": {"bearing_deg": 20.0, "spacing_m": 2.5},
        },
        context={"folder": str(tmp_path)},
    )
    plan = plan_config(config)
    # It is bare ground, and nothing says that it were none.
    assert [code for code in plan.findings["code"] if code.startswith("ground-")] == []
    assert len(plan.rows) > 90
    assert plan.posts["ground_m"].notna().all()
    # Heights against the cells themselves: smoothed over a metre they stay within a cell's step of the nearest one.
    to_raster = Transformer.from_crs("OGC:CRS84", "EPSG:26915", always_xy=True)
    east, north = to_raster.transform(plan.posts["lon"].to_numpy(), plan.posts["lat"].to_numpy())
    column, row = ~transform * (np.asarray(east), np.asarray(north))
    nearest = heights[row.astype(int), column.astype(int)]
    assert np.abs(plan.posts["ground_m"] - nearest).max() < 1.0
    assert (plan.posts["ground_m"] - nearest).mean() == pytest.approx(0.0, abs=0.01)
    # Real ground undulates: some posts need two-way clips for certain, most do not, and 10 cm leave many in doubt.
    certainty = plan.clips["certainty"].value_counts(normalize=True)
    assert 0.01 < certainty["certain"] < 0.4
    assert certainty["no"] > 0.2
    assert "clips-by-price" in set(plan.findings["code"])
    # Signs: where the wire pulls up hardest the ground is hollow, where it bears down hardest it is a crest.
    lower = plan.clips[plan.clips["wire_id"] == "lower"].set_index("post_id")["load_min_n"]
    change = plan.posts.set_index("post_id")["grade_change_pct"]
    assert change[lower.nsmallest(50).index].min() > 0.0
    assert change[lower.nlargest(50).index].max() < 0.0
    assert isinstance(plan.wires, pd.DataFrame)
    assert (plan.wires["run_out_m"] > 0.0).all()
