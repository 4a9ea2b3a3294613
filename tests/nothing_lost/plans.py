"""Two small plans of one estate, two surveys of one vineyard, and how a result stands on the disk."""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from pyproj import Transformer

from tests.refusals.conftest import Estate
from tests.unit.surface.scenes import CELL_M, vineyard

#: By SHA-256, every file of a result.
Print = dict[str, str]


@dataclass(frozen=True)
class TwoPlans:
    """An estate with two configs whose plans differ in every table."""

    folder: Path
    configs: tuple[Path, Path]


def two_plans(folder: Path) -> TwoPlans:
    """Write an estate and its configs."""
    estate = Estate(folder)
    configs = []
    for name, bearing in (("a", 62.0), ("b", 64.0)):
        estate.settings["rows"]["bearing_deg"] = bearing
        path = folder / f"{name}.toml"
        path.write_text(estate.config().read_text())
        configs.append(path)
    return TwoPlans(folder, (configs[0], configs[1]))


def two_surveys(folder: Path) -> TwoPlans:
    """Write a surface of 24 by 24 m and two configs whose grounds differ by the grass."""
    side, (east, north) = 24.0, (617_400.0, 4_562_000.0)
    heights = vineyard(side, side).surface_m.astype(np.float32)
    corner = Affine(CELL_M, 0.0, east, 0.0, -CELL_M, north + side)
    shape = {"count": 1, "height": heights.shape[0], "width": heights.shape[1]}
    with rasterio.open(
        folder / "surface.tif", "w", driver="GTiff", dtype="float32", crs="EPSG:32629", transform=corner, **shape
    ) as out:
        out.write(heights, 1)
        out.units = ["metre"]
    to_lonlat = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
    ring = [list(to_lonlat.transform(east + x, north + y)) for x, y in ((3, 3), (21, 2), (20, 21), (3, 3))]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "block.geojson").write_text(json.dumps(feature))
    configs = folder / "a.toml", folder / "b.toml"
    for path, grass in zip(configs, (0.02, 0.06), strict=True):
        path.write_text(
            f'name = "{path.stem}"\n[block]\nboundary = "block.geojson"\n[survey]\nsurface = "surface.tif"\n'
            f"grass_height_m = {grass}\n"
        )
    return TwoPlans(folder, configs)


def print_of(place: Path) -> Print:
    """Return the print of a result; empty where there is none."""
    files = sorted(path for path in place.rglob("*") if path.is_file())
    return {path.relative_to(place).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def beside(place: Path) -> list[str]:
    """Return what lies hidden beside a result."""
    return sorted(path.name for path in place.parent.iterdir() if path.name.startswith(f".{place.name}."))


def as_json(**what: object) -> str:
    """Return what was seen, as a process tells it to another."""
    return json.dumps(what)
