"""Scenes to plan: ground of known shape under a block of known outline, written as the files a user would give."""

import base64
import gzip
import importlib
import json
import pkgutil
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import formulas
import numpy as np
import openpyxl
import pytest
import rasterio
import wirerun
from click.testing import CliRunner, Result
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings
from numpy.typing import NDArray
from pyproj import Transformer
from wirerun.cli import main
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import PlaneXY
from wirerun.settings import Config

# Property tests draw the same examples in every run, and no test fails because a machine is slow or busy. To look for
# new ones: --hypothesis-profile=explore, see DEVELOPERS.md.
_PATIENT = hypothesis_settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True)
hypothesis_settings.register_profile("same", _PATIENT, derandomize=True)
hypothesis_settings.register_profile("explore", _PATIENT, derandomize=False)
hypothesis_settings.load_profile("same")
# Numbers that stand in our modules are among the examples. All modules are loaded here, lest it should depend on the
# tests that ran before in the same process.
for module in pkgutil.walk_packages(wirerun.__path__, "wirerun."):
    if module.name != "wirerun.__main__":
        importlib.import_module(module.name)

FloatArray = NDArray[np.float64]
Surface = Callable[[FloatArray, FloatArray], FloatArray]
Corners = list[tuple[float, float]]

# The ground of an estate reaches some metres beyond these, in plane metres.
_GROUND: Corners = [(-70.0, -18.0), (58.0, 21.0)]
_CONFIG = """
name = "estate"
[block]
boundary = "block.geojson"
id_field = "block"
[elevation]
raster = "ground.tif"
smoothing_m = 0.0
[rows]
bearing_deg = 90.0
spacing_m = 4.0
"""


@dataclass(frozen=True)
class Scene:
    """Where a scene lies, and how its files are made. Plane metres of `frame` carry the surface and the outline."""

    folder: Path
    frame: Frame
    epsg: int
    cell_m: float

    def write_raster(self, surface: Surface, reach_m: float, name: str = "ground.tif") -> None:
        """Square raster of the surface, `reach_m` to each side of the frame's origin."""
        to_raster = Transformer.from_crs(self.frame.crs, f"EPSG:{self.epsg}", always_xy=True)
        middle_east, middle_north = to_raster.transform(0.0, 0.0)
        half = int(np.ceil(reach_m / self.cell_m))
        # Off the round metre on purpose, so that a half-cell mistake shows.
        west = middle_east - half * self.cell_m + 0.137
        north = middle_north + half * self.cell_m - 0.211
        transform = rasterio.transform.from_origin(west, north, self.cell_m, self.cell_m)
        row, column = np.mgrid[0 : 2 * half, 0 : 2 * half] + 0.5
        east, north_of = transform * (column, row)
        x, y = to_raster.transform(east, north_of, direction="INVERSE")
        heights = surface(np.asarray(x), np.asarray(y))
        with rasterio.open(
            self.folder / name,
            "w",
            driver="GTiff",
            width=2 * half,
            height=2 * half,
            count=1,
            dtype="float64",
            crs=f"EPSG:{self.epsg}",
            transform=transform,
            nodata=-9999.0,
            tiled=True,
        ) as out:
            out.write(heights, 1)
            out.units = ["metre"]

    def write_outline(
        self, corners: list[tuple[float, float]], name: str = "block.geojson", block: str = "B01"
    ) -> None:
        """GeoJSON of one polygon given in plane metres."""
        xy = np.array([*corners, corners[0]], dtype=np.float64)
        corners_at = self.frame.to_lonlat(PlaneXY.of(xy)).stacked().tolist()
        feature = {
            "type": "Feature",
            "properties": {"block": block},
            "geometry": {"type": "Polygon", "coordinates": [corners_at]},
        }
        (self.folder / name).write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))

    def config(self, **sections: Any) -> Config:  # noqa: ANN401 - TOML sections
        """Config that reads this scene's files; sections are merged over a plain one without smoothing or error."""
        data: dict[str, Any] = {
            "name": "scene",
            "block": {"boundary": "block.geojson", "id_field": "block"},
            "elevation": {"raster": "ground.tif", "accuracy_m": 0.0, "smoothing_m": 0.0},
            "rows": {"bearing_deg": 62.0, "spacing_m": 2.4},
        }
        for name, section in sections.items():
            data[name] = {**data.get(name, {}), **section} if isinstance(section, dict) else section
        return Config.model_validate(data, context={"folder": str(self.folder)})


@pytest.fixture
def make_scene(tmp_path: Path) -> Callable[..., Scene]:
    """Builder of scenes, each in a folder of its own."""
    made = 0

    def make(
        surface: Surface,
        corners: list[tuple[float, float]],
        *,
        frame: Frame = Frame(-7.6, 41.2, 300.0),  # noqa: B008 - frozen
        epsg: int = 25829,
        cell_m: float = 0.5,
    ) -> Scene:
        nonlocal made
        made += 1
        folder = tmp_path / f"scene{made}"
        folder.mkdir()
        scene = Scene(folder, frame, epsg, cell_m)
        scene.write_raster(surface, float(np.hypot(*np.transpose(corners)).max()) + 10.0)
        scene.write_outline(corners)
        return scene

    return make


def _waves(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return a slope with waves of some 25 m, crests and hollows in every row."""
    return np.asarray(300.0 + 0.08 * x - 0.03 * y + 0.35 * np.sin(x / 4.0))


class Estate:
    """Several blocks on one piece of ground, as files and a config, for the command and for Python."""

    def __init__(self, scene: Any, **blocks: Corners) -> None:  # noqa: ANN401 - a scene
        self.scene, self.folder = scene, scene.folder
        features = []
        for name, corners in blocks.items():
            xy = np.array([*corners, corners[0]])
            lonlat = scene.frame.to_lonlat(PlaneXY.of(xy)).stacked()
            shape = {"type": "Polygon", "coordinates": [lonlat.tolist()]}
            features.append({"type": "Feature", "properties": {"block": name}, "geometry": shape})
        text = json.dumps({"type": "FeatureCollection", "features": features})
        (self.folder / "block.geojson").write_text(text)

    def config(self, **sections: Any) -> Config:  # noqa: ANN401 - TOML sections
        """Return its config; sections are merged over a plain one."""
        config = self.scene.config(rows={"bearing_deg": 90.0, "spacing_m": 4.0}, **sections)
        assert isinstance(config, Config)
        return config

    def command(self, *words: str, more: str = "") -> Result:
        """Run the command on the estate, in this process; `more` is added to its config."""
        (self.folder / "estate.toml").write_text(_CONFIG + more)
        verb, *rest = words
        target = ["--out", str(self.folder / "out"), "--overwrite"] if verb == "plan" else []
        return CliRunner().invoke(main, [verb, str(self.folder / "estate.toml"), *target, *rest])

    @property
    def record(self) -> dict[str, Any]:
        """Return what the last plan says of itself."""
        record: dict[str, Any] = json.loads((self.folder / "out" / "run.json").read_bytes())
        return record


@pytest.fixture
def make_estate(make_scene: Callable[..., Scene]) -> Callable[..., Estate]:
    """Builder of estates: the name of each block and its corners in plane metres."""
    return lambda **blocks: Estate(make_scene(_waves, _GROUND), **blocks)


@pytest.fixture(scope="session")
def inside() -> Callable[[str], dict[str, Any]]:
    """Return the function that unpacks the data in a page."""

    def unpack(page: str) -> dict[str, Any]:
        (packed,) = re.findall(r'<script type="text/plain" id="plan-data">([A-Za-z0-9+/=]*)</script>', page)
        data: dict[str, Any] = json.loads(gzip.decompress(base64.b64decode(packed)), object_hook=unfolded)
        return data

    def unfolded(one: dict[str, Any]) -> Any:  # noqa: ANN401 - an object, or the column that it stands for
        return [one["words"][place] for place in one["at"]] if one.keys() == {"words", "at"} else one

    return unpack


@pytest.fixture(scope="session")
def reckon(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., dict[str, Any]]:
    """Return the function that reckons a workbook: what each cell comes to, by "Sheet!A1", with some cells filled in.

    Neither the library that writes the workbook nor the one that reads it can reckon: a third does, and what the
    writer put down as the result is not looked at.
    """

    def reckoned(path: Path, sheets: Sequence[str], filled: dict[str, float] | None = None) -> dict[str, Any]:
        book = openpyxl.load_workbook(path)
        for name in set(book.sheetnames) - set(sheets):
            del book[name]
        for cell, value in (filled or {}).items():
            sheet, at = cell.split("!")
            book[sheet][at] = value
        copy = tmp_path_factory.mktemp("reckoned") / "book.xlsx"
        book.save(copy)
        named = {name.upper(): name for name in sheets}
        found = formulas.ExcelModel().loads(str(copy)).finish().calculate()
        values = {}
        for cell, of in found.items():
            inside = re.fullmatch(r"'\[book.xlsx\](\w+)'!([A-Z]+\d+)", str(cell))
            if inside:
                value = of.value[0, 0]
                values[f"{named[inside[1]]}!{inside[2]}"] = float(value) if isinstance(value, int | float) else value
        return values

    return reckoned
