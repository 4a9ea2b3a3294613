"""Every way what a survey is given can be wrong, and the sentence for it."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
import shapely
from affine import Affine
from click.testing import CliRunner, Result
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from wirerun.cli import main

from tests.unit.surface.scenes import CELL_M, Scene, vineyard

EAST, NORTH, SIDE_M = 617_400.0, 4_562_000.0, 30.0
TO_LONLAT = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
BLOCK = ((3.0, 3.0), (27.0, 2.0), (26.0, 27.0), (4.0, 26.0), (3.0, 3.0))
CORNER = Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, NORTH + SIDE_M)


@pytest.fixture(scope="module")
def scene() -> Scene:
    """Return a vineyard of 30 by 30 m."""
    return vineyard(SIDE_M, SIDE_M)


class Survey:
    """A folder with a surface, check points and a block, all good until a test writes one anew."""

    def __init__(self, folder: Path, scene: Scene) -> None:
        self.folder, self.heights = folder, scene.surface_m.astype(np.float32)
        ring = [list(TO_LONLAT.transform(EAST + x, NORTH + y)) for x, y in BLOCK]
        feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
        (folder / "block.geojson").write_text(json.dumps(feature))
        at = [(8.0, 9.0), (15.0, 22.0), (22.0, 12.0)]
        ground = [float(scene.ground_m[int((SIDE_M - y) / CELL_M), int(x / CELL_M)]) for x, y in at]
        self.points: NDArray[np.float64] = np.column_stack([np.array(at) + np.array([EAST, NORTH]), ground])
        self.raster("surface.tif", self.heights)

    def raster(self, name: str, heights: NDArray[Any], **changed: Any) -> None:  # noqa: ANN401 - rasterio's options
        """Write heights."""
        rows, columns = heights.shape
        profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "height": rows, "width": columns}
        with rasterio.open(
            self.folder / name, "w", **(profile | {"crs": "EPSG:32629", "transform": CORNER} | changed)
        ) as out:
            out.write(heights.astype(np.float32), 1)
            out.units = ["metre"]

    def table(
        self, columns: Callable[[float, float, float], tuple[float, ...]], head: str = "id,lon,lat,height"
    ) -> None:
        """Write check points, their values made of easting, northing and height."""
        lines = [
            f"P{n}," + ",".join(f"{value:.9f}" for value in columns(*point)) for n, point in enumerate(self.points)
        ]
        (self.folder / "check.csv").write_text("\n".join([head, *lines]) + "\n")

    def run(self, told: str) -> Result:
        """Run the command."""
        text = f'name = "survey"\n[block]\nboundary = "block.geojson"\n[survey]\n{told}\n'
        (self.folder / "survey.toml").write_text(text)
        return CliRunner().invoke(main, ["survey", str(self.folder / "survey.toml"), "--out", str(self.folder / "out")])

    def refused(self, told: str, code: int, sentence: str) -> None:
        """Run it, and look at the end."""
        done = self.run(told)
        words = " ".join(done.output.split()).replace("\u202f", " ")
        assert done.exit_code == code, done.output
        assert sentence in words
        assert "Traceback" not in words
        assert [path.name for path in self.folder.iterdir() if path.is_dir() and path.name != "tiles"] == []


@pytest.fixture
def survey(tmp_path: Path, scene: Scene) -> Survey:
    """Return the folder."""
    return Survey(tmp_path, scene)


def lonlat(east: float, north: float) -> tuple[float, float]:
    return TO_LONLAT.transform(east, north)


def test_zeros_that_are_no_heights(survey: Survey) -> None:
    survey.heights[100:200, 80:180] = 0.0
    survey.raster("surface.tif", survey.heights)
    survey.refused(
        'surface = "surface.tif"',
        3,
        "error: surface.tif: 10 000 cells are exactly 0 m high (100.0 m2 so far, the biggest part round longitude -7",
    )
    words = " ".join(survey.run('surface = "surface.tif"').output.split())
    place = re.search(r"longitude (-[0-9.]+), latitude ([0-9.]+)\), the others 19.* to 20.*; declare 0", words)
    assert place is not None, words
    # A degree of longitude is 84 km there: within a cell or two.
    assert [float(part) for part in place.groups()] == pytest.approx(lonlat(EAST + 13.0, NORTH + 15.0), abs=2e-6)


def test_zeros_of_a_survey_at_the_sea_are_heights(survey: Survey) -> None:
    """Where the ground is near 0 in other places too."""
    low = survey.heights - np.quantile(survey.heights, 0.3)
    low[np.abs(low) < 0.01] = 0.0
    survey.raster("surface.tif", low)
    assert survey.run('surface = "surface.tif"').exit_code == 0


def test_no_heights_where_the_blocks_lie(survey: Survey) -> None:
    survey.raster("surface.tif", np.full_like(survey.heights, -9999.0), nodata=-9999.0)
    survey.refused(
        'surface = "surface.tif"', 4, "error: surface.tif: it has no heights where the blocks of block.geojson"
    )


def test_too_little_of_a_block_is_seen(survey: Survey) -> None:
    """A corner is refused, whatever rows stand in it; a setting says how much is asked for."""
    corner = survey.heights.copy()
    corner[:, 150:] = -9999.0
    corner[:150] = -9999.0
    survey.raster("surface.tif", corner, nodata=-9999.0)
    block = shapely.Polygon(BLOCK)
    share = 100.0 * block.intersection(shapely.box(0.0, 0.0, 15.0, 15.0)).area / block.area
    survey.refused(
        'surface = "surface.tif"', 4, "rows are looked for where at least 50 % have (survey.least_cover_pct)"
    )
    words = " ".join(survey.run('surface = "surface.tif"').output.split())
    said = re.search(
        r"error: surface.tif, block B01: only ([0-9.]+) % of the block has heights; the biggest part", words
    )
    assert said is not None, words
    assert float(said[1]) == pytest.approx(share, abs=2.0)
    assert "of a survey in tiles, give them all" in words
    # The same by a raster that ends there.
    survey.raster("cut.tif", survey.heights[150:, :150], transform=CORNER * Affine.translation(0.0, 150.0))
    survey.refused('surface = "cut.tif"', 4, f"only {said[1]} % of the block has heights")
    done = survey.run('surface = "cut.tif"\nleast_cover_pct = 20')
    assert done.exit_code == 0, done.output


def test_too_little_of_a_block_is_on_a_photo(survey: Survey) -> None:
    profile = {"driver": "GTiff", "dtype": "uint8", "count": 3, "height": 300, "width": 100, "crs": "EPSG:32629"}
    with rasterio.open(survey.folder / "part.tif", "w", **profile, transform=CORNER, photometric="RGB") as out:
        out.write(np.full((3, 300, 100), 90, dtype=np.uint8))
    survey.refused('orthophoto = "part.tif"', 3, "error: part.tif, block B01: only 2")


def test_numbers_that_nobody_declared_are_told(survey: Survey) -> None:
    """A usual no-data number is taken for none; another makes a cliff, which is told before a plan trips over it."""
    survey.heights[100:200, 80:180] = -32767.0
    survey.raster("surface.tif", survey.heights)
    done = survey.run('surface = "surface.tif"')
    words = " ".join(done.output.split())
    assert done.exit_code == 0, done.output
    assert "Cells hold -32767, not declared as no-data; they were taken as empty." in words
    assert re.search(r"warning: B01: 8[0-9.]+ % of the block has heights; the biggest part without lies in the", words)
    assert "A plan is refused below 95 % (elevation.least_cover_pct)." in words
    assert re.search(r"warning: survey: Of the blocks' ground [0-9.]+ % was filled from more than a metre off", words)
    survey.heights[100:200, 80:180] = -99.0
    survey.raster("other.tif", survey.heights)
    (survey.folder / "out").rename(survey.folder / "before")
    done = survey.run('surface = "other.tif"')
    words = " ".join(done.output.split())
    assert done.exit_code == 0, done.output
    assert "warning: other.tif: The ground rises or falls by as much as" in words
    assert "over the limit of 10 m, and a plan is refused there" in words


@pytest.mark.parametrize(
    ("changed", "told", "code", "sentence"),
    [
        ({"crs": "EPSG:32630"}, "", 4, "error: surface.tif, block B01: the block lies off the raster"),
        (
            {"transform": Affine.translation(5000.0, 0.0) * CORNER},
            "",
            4,
            "of a survey in tiles, give them all: survey.surface takes a list of files, or a folder",
        ),
        ({"crs": None}, "", 3, "it names no CRS that ties it to the earth; say which it is in survey.surface_crs"),
        ({}, '\nsurface_crs = "EPSG:32630"', 3, "but survey.surface_crs is WGS 84 / UTM zone 30N; take that out"),
        ({}, '\nheight_unit = "ft"', 3, 'heights are in metres, but survey.height_unit is "ft"; take the setting out'),
    ],
)
def test_a_surface_elsewhere(survey: Survey, changed: dict[str, Any], told: str, code: int, sentence: str) -> None:
    survey.raster("surface.tif", survey.heights, **changed)
    survey.refused(f'surface = "surface.tif"{told}', code, sentence.replace("it names", "the raster names"))


def test_feet_taken_for_metres_show_at_the_check_points(survey: Survey) -> None:
    survey.raster("surface.tif", survey.heights / 0.3048)
    survey.table(lambda east, north, height: (*lonlat(east, north), height))
    survey.refused(
        'surface = "surface.tif"\ncheck_points = "check.csv"',
        3,
        "error: check.csv: the ground of the survey is 3.28 times as high as its check points: one of the two is in "
        "feet; say which in survey.height_unit, or in survey.check_points_height_unit",
    )


def test_check_points_to_the_metre_are_none(survey: Survey) -> None:
    survey.raster("surface.tif", survey.heights)
    survey.table(lambda east, north, height: (*lonlat(east, north), np.round(height)))
    head, *lines = (survey.folder / "check.csv").read_text().splitlines()
    (survey.folder / "check.csv").write_text("\n".join([head, *(lines * 4)]))
    sentence = "error: check.csv: heights are rounded to 1 m; a check point is measured to the centimetre"
    survey.refused('surface = "surface.tif"\ncheck_points = "check.csv"', 3, sentence)


@pytest.mark.parametrize(
    ("columns", "head", "more", "sentence"),
    [
        (
            lambda east, north, height: (*lonlat(east, north)[::-1], height),
            "id,lon,lat,height",
            "",
            "check.csv: no check point lies in a block or within 10 m of one, where ground is made; the nearest is P",
        ),
        (
            lambda east, north, height: (*lonlat(east + 100.0, north), height),
            "id,lon,lat,height",
            "",
            "the nearest is P0, 81 m off at longitude -7.598",
        ),
        (
            lambda east, north, height: (north, east, height),
            "id,E,N,height",
            '\ncheck_points_crs = "EPSG:32629"',
            "look at the order of the columns and at survey.check_points_crs, or take survey.check_points out",
        ),
        (
            lambda east, north, height: (height, *lonlat(east, north)),
            "id,lon,lat,height",
            "",
            "check.csv, line 2: 2",
        ),
        (
            lambda east, north, height: (east, north, height),
            "id,E,N,height",
            "",
            "survey.toml, survey.check_points_crs: check.csv has the columns E and N; name their CRS",
        ),
        (
            lambda east, north, _height: lonlat(east, north),
            "id,lon,lat",
            "",
            "check.csv: check points need heights: a column called height, or z",
        ),
    ],
)
def test_check_points_elsewhere(
    survey: Survey, columns: Callable[..., tuple[float, ...]], head: str, more: str, sentence: str
) -> None:
    survey.table(columns, head)
    survey.refused(f'surface = "surface.tif"\ncheck_points = "check.csv"{more}', 3, sentence)


def test_an_orthophoto_of_other_ground(survey: Survey) -> None:
    """Beside a surface as well as alone."""
    profile = {"driver": "GTiff", "dtype": "uint8", "count": 3, "height": 300, "width": 300, "crs": "EPSG:32629"}
    for name, east in (("far.tif", 500.0), ("part.tif", 15.0)):
        place = Affine.translation(east, 0.0) * CORNER
        with rasterio.open(survey.folder / name, "w", **profile, transform=place, photometric="RGB") as out:
            out.write(np.full((3, 300, 300), 90, dtype=np.uint8))
    sentence = (
        "error: far.tif: it shows another place: no block of the boundary lies on it (longitude -7.5939 to -7.593"
    )
    survey.refused('surface = "surface.tif"\northophoto = "far.tif"', 3, sentence)
    survey.refused('orthophoto = "far.tif"', 3, sentence)
    done = survey.run('orthophoto = "part.tif"')
    assert done.exit_code == 0, done.output
    block = shapely.Polygon(BLOCK)
    share = 100.0 * block.intersection(shapely.box(15.0, 0.0, 45.0, 30.0)).area / block.area
    said = re.search(r"B01: Of the block (\d+) % show on the orthophoto; it has no rows elsewhere", done.output)
    assert said is not None, done.output
    assert float(said[1]) == pytest.approx(share, abs=1.5)


def test_one_broken_tile_of_several(survey: Survey) -> None:
    (survey.folder / "tiles").mkdir()
    for number in range(3):
        part = survey.heights[100 * number : 100 * number + 100]
        survey.raster(f"tiles/{number}.tif", part, transform=Affine.translation(0.0, -10.0 * number) * CORNER)
    middle = survey.folder / "tiles" / "1.tif"
    whole = middle.read_bytes()
    for broken in (whole[: len(whole) // 2], b"II*\0" + bytes(range(256)) * 4, b""):
        middle.write_bytes(broken)
        survey.refused('surface = "tiles"', 3, "error: tiles/1.tif: ")
    survey.raster("tiles/1.tif", survey.heights[100:200], crs="EPSG:32630")
    survey.refused(
        'surface = "tiles"', 3, "tiles/1.tif: it is in WGS 84 / UTM zone 30N, tiles/0.tif in WGS 84 / UTM zone"
    )


def write_cloud(survey: Survey, name: str, count: int, crs: str | None = "EPSG:32629+5773") -> bytes:
    laspy = pytest.importorskip("laspy")
    rng = np.random.default_rng(2)
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.offsets, header.scales = [EAST, NORTH, 0.0], [0.001] * 3
    if crs is not None:
        header.add_crs(CRS(crs))
    cloud = laspy.LasData(header)
    x, y = rng.uniform(0.0, SIDE_M, (2, count))
    cloud.x, cloud.y = EAST + x, NORTH + y
    cloud.z = survey.heights[((SIDE_M - y) / CELL_M).astype(int), (x / CELL_M).astype(int)]
    cloud.write(survey.folder / name)
    return (survey.folder / name).read_bytes()


@pytest.mark.parametrize("name", ["cloud.las", "cloud.laz"])
def test_a_cloud_empty_and_cut(survey: Survey, name: str) -> None:
    write_cloud(survey, name, 0)
    survey.refused(f'points = "{name}"', 3, f"error: {name}: no point of the cloud lies in a block")
    whole = write_cloud(survey, name, 20_000)
    for count in (100, 1000, len(whole) // 2, len(whole) - 1000):
        (survey.folder / name).write_bytes(whole[:count])
        survey.refused(f'points = "{name}"', 3, f"error: {name}: the point cloud is ")


def test_a_cloud_elsewhere_or_nowhere(survey: Survey) -> None:
    write_cloud(survey, "cloud.las", 5000, crs="EPSG:32630")
    survey.refused('points = "cloud.las"', 3, "error: cloud.las: no point of the cloud lies in a block")
    write_cloud(survey, "cloud.las", 5000, crs=None)
    survey.refused('points = "cloud.las"', 3, "error: cloud.las: the point cloud names no CRS that ties it to the")
    survey.refused('points = "cloud.las"\npoints_crs = "EPSG:4326"', 3, "error: cloud.las: ")
    survey.refused('points = "surface.tif"', 3, "error: surface.tif: the point cloud is damaged, or no LAS or LAZ")
    survey.refused('surface = "cloud.las"', 3, "error: cloud.las: the file is no GeoTIFF, ASCII grid or VRT")
