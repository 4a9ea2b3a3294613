"""Point clouds become cells: the ground of classified ones, the lowest points of others; feet are converted."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from click.testing import CliRunner, Result
from pyproj import CRS, Transformer
from wirerun.cli import main

laspy = pytest.importorskip("laspy")

EAST, NORTH, SIDE = 617_400.0, 4_562_000.0, 40.0
FOOT = 1200.0 / 3937.0


def ground(x: Any, y: Any) -> Any:  # noqa: ANN401 - arrays
    return 250.0 + 0.2 * x + 0.1 * y + 0.5 * np.sin(x / 6.0)


class Cloud:
    """A cloud of vines over a slope in a folder, and the command on it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        ring = [(5.0, 5.0), (35.0, 6.0), (34.0, 35.0), (6.0, 33.0), (5.0, 5.0)]
        to_lonlat = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
        corners = [list(to_lonlat.transform(EAST + x, NORTH + y)) for x, y in ring]
        shape = {"type": "Polygon", "coordinates": [corners]}
        (folder / "block.geojson").write_text(json.dumps({"type": "Feature", "properties": {}, "geometry": shape}))

    def write(self, name: str, *, classified: bool, crs: CRS | None, unit: float = 1.0, stray: float = 0.0) -> None:
        """Write a cloud."""
        rng = np.random.default_rng(4)
        x, y = rng.uniform(0.0, SIDE, (2, 80_000))
        vines = np.abs(np.mod(y, 2.4) - 1.2) < 0.3
        z = ground(x, y) + np.where(vines, rng.uniform(0.5, 1.4, x.size), 0.0) + rng.normal(0.0, 0.02, x.size)
        header = laspy.LasHeader(point_format=6, version="1.4")
        header.offsets, header.scales = [EAST, NORTH, 0.0], [0.001] * 3
        if crs is not None:
            header.add_crs(crs)
        cloud = laspy.LasData(header)
        cloud.x, cloud.y, cloud.z = EAST + x, NORTH + y, z / unit
        kinds = np.where(vines, 4, 2) if classified else np.ones(x.size, dtype=int)
        if stray:
            kinds[:200], heights = 7, np.asarray(cloud.z)
            heights[:200] -= stray
            cloud.z = heights
        cloud.classification = kinds.astype(np.uint8)
        cloud.write(self.folder / name)

    def run(self, name: str, more: str = "") -> Result:
        """Run the command."""
        text = f'name = "cloud"\n[block]\nboundary = "block.geojson"\n[survey]\npoints = "{name}"\n{more}'
        (self.folder / "survey.toml").write_text(text)
        words = ["survey", str(self.folder / "survey.toml"), "--out", str(self.folder / "out"), "--overwrite"]
        return CliRunner().invoke(main, words)

    def off(self) -> Any:  # noqa: ANN401 - a masked array
        """Return how far the ground that came out is off the truth within the block [m]."""
        with rasterio.open(self.folder / "out" / "ground.tif") as raster:
            made = raster.read(1, masked=True)
            column, row = np.meshgrid(np.arange(raster.width) + 0.5, np.arange(raster.height) + 0.5)
            x, y = raster.transform * (column, row)
        inner = (abs(x - EAST - 20.0) < 12.0) & (abs(y - NORTH - 20.0) < 12.0)
        return (made - ground(x - EAST, y - NORTH))[inner]


@pytest.fixture
def cloud(tmp_path: Path) -> Cloud:
    """Return the folder."""
    return Cloud(tmp_path)


@pytest.mark.parametrize("name", ["cloud.las", "cloud.laz"])
def test_the_ground_of_a_classified_cloud(cloud: Cloud, name: str) -> None:
    cloud.write(name, classified=True, crs=CRS("EPSG:32629+5773"))
    done = cloud.run(name)
    assert done.exit_code == 0, done.output
    assert "are classified as ground (class 2), and make it" in " ".join(done.output.split())
    off = cloud.off()
    assert off.count() == off.size
    assert abs(float(off.mean())) < 0.01
    assert float(off.std()) < 0.03


def test_the_lowest_points_of_another_and_noise_passed_over(cloud: Cloud) -> None:
    cloud.write("cloud.laz", classified=False, crs=CRS("EPSG:32629+5773"), stray=30.0)
    done = cloud.run("cloud.laz")
    assert done.exit_code == 0, done.output
    assert "the lowest of each cell is taken for the surface" in " ".join(done.output.split())
    assert float(abs(cloud.off()).max()) < 0.4
    assert "rows" in done.output


def test_feet_and_a_silent_cloud(cloud: Cloud) -> None:
    cloud.write("cloud.las", classified=True, crs=None, unit=FOOT)
    done = cloud.run("cloud.las")
    assert done.exit_code == 3
    assert "names no CRS that ties it to the earth; say which in survey.points_crs" in " ".join(done.output.split())
    done = cloud.run("cloud.las", 'points_crs = "EPSG:32629"\nheight_unit = "us-ft"\n')
    assert done.exit_code == 0, done.output
    assert abs(float(cloud.off().mean())) < 0.01


def test_no_cloud_at_all(cloud: Cloud) -> None:
    (cloud.folder / "no.laz").write_bytes(b"LASF" + bytes(400))
    done = cloud.run("no.laz")
    assert done.exit_code == 3
    assert "the point cloud is damaged, or no LAS or LAZ" in " ".join(done.output.split())
    cloud.write("cut.laz", classified=True, crs=CRS("EPSG:32629"))
    whole = (cloud.folder / "cut.laz").read_bytes()
    (cloud.folder / "cut.laz").write_bytes(whole[: len(whole) // 2])
    done = cloud.run("cut.laz")
    assert done.exit_code == 3, done.output
