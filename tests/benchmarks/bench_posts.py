"""How surely the posts of an existing trellis are found in a dormant survey, and how near to where they stand.

Run ``python tests/benchmarks/bench_posts.py [CELL_M ...]``: some minutes a size of cell, or with ``--clouds
[POINTS_PER_M2 ...]`` on point clouds. Each scene (made by `dormant_scenes.py`, truth known) is written as a raster, or
as a cloud without classes, and goes through `wirerun survey` whole: ground, rows, posts. A
post counts as found where one was put within 0.3 m of its top. One seed a scene: a hundred and fifty posts, so shares
differ by a percent or two by chance.
"""

import json
import sys
import tempfile
from pathlib import Path

import geopandas as gpd
import laspy
import numpy as np
import pyproj
import rasterio
from affine import Affine
from dormant_scenes import PLANTINGS, Dormant, DormantCloud, make_cloud, make_dormant
from numpy.typing import NDArray
from pyproj import Transformer
from wirerun.api import survey_file

FloatArray = NDArray[np.float64]

CRS = "EPSG:32629"
CRS_OF_CLOUD = pyproj.CRS("EPSG:32629+5773")
EAST, NORTH = 617_400.0, 4_562_000.0
_NEAR_M = 0.3
_SURE = 0.7


def survey_of(scene: Dormant, folder: Path) -> tuple[Path, dict[str, object]]:
    """Write a scene and survey it; return the result's folder and what survey.json says."""
    rows, columns = scene.surface_m.shape
    corner = Affine(scene.cell_m, 0.0, EAST, 0.0, -scene.cell_m, NORTH + rows * scene.cell_m)
    profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "height": rows, "width": columns, "crs": CRS}
    with rasterio.open(folder / "surface.tif", "w", **profile, transform=corner) as out:
        out.write(scene.surface_m.astype(np.float32), 1)
        out.units = ["metre"]
    return _surveyed(folder, columns * scene.cell_m, rows * scene.cell_m, 'surface = "surface.tif"')


def survey_of_cloud(scene: DormantCloud, folder: Path) -> tuple[Path, dict[str, object]]:
    """Write a cloud and survey it, likewise."""
    header = laspy.LasHeader(point_format=6, version="1.4")
    header.offsets, header.scales = [EAST, NORTH, 0.0], [0.001] * 3
    header.add_crs(CRS_OF_CLOUD)
    cloud = laspy.LasData(header)
    cloud.x, cloud.y, cloud.z = (scene.points + np.array([EAST, NORTH, 0.0])).T
    cloud.write(folder / "cloud.las")
    return _surveyed(folder, scene.wide_m, scene.high_m, 'points = "cloud.las"')


def _surveyed(folder: Path, wide: float, high: float, told: str) -> tuple[Path, dict[str, object]]:
    corners = [(4.5, 4.5), (wide - 4.5, 4.5), (wide - 4.5, high - 4.5), (4.5, high - 4.5), (4.5, 4.5)]
    to_lonlat = Transformer.from_crs(CRS, "OGC:CRS84", always_xy=True)
    ring = [list(to_lonlat.transform(EAST + x, NORTH + y)) for x, y in corners]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "block.geojson").write_text(json.dumps(feature))
    text = f'name = "dormant"\n[block]\nboundary = "block.geojson"\n[survey]\n{told}\n'
    (folder / "survey.toml").write_text(text)
    made, target = survey_file(folder / "survey.toml", folder / "out", overwrite=True)
    del made
    return target, json.loads((target / "survey.json").read_text())


def judge(scene: Dormant | DormantCloud, target: Path) -> str:
    """Say how the found posts compare with the true ones."""
    path = target / "posts.geojson"
    if not path.exists():
        return "no posts.geojson"
    posts = gpd.read_file(path).to_crs(CRS)
    at = np.column_stack([posts.geometry.x - EAST, posts.geometry.y - NORTH])
    if not len(scene.posts):
        return f"{len(at)} INVENTED"
    far = np.hypot(*(at[:, None] - scene.posts[None]).transpose(2, 0, 1))
    nearest, good = far.argmin(axis=1), far.min(axis=1) < _NEAR_M
    found = len(np.unique(nearest[good])) / len(scene.posts)
    off = far.min(axis=1)[good]
    foot = np.hypot(*(at - scene.foot[nearest])[good].T)
    sure = posts["confidence"].to_numpy() >= _SURE
    said = [f"{value:5.3f}" for value in (found, good.mean(), (good & sure).sum() / len(scene.posts))]
    said.append(f"{good[sure].mean():5.3f}" if sure.any() else "    -")
    said += [f"{100.0 * value:5.1f}" for part in (off, foot) for value in np.quantile(part, [0.5, 0.95])]
    return "  ".join(said)


def main() -> None:
    """Print the table."""
    print("Posts found: recall, precision; alike with a confidence of 0.7; cm off the top (median, 95 %), off the foot")
    if sys.argv[1:2] == ["--clouds"]:
        for per_m2 in [float(word) for word in sys.argv[2:]] or [100.0, 200.0, 600.0]:
            print(f"clouds of {per_m2:g} points a square metre")
            for name, (planting, survey) in PLANTINGS.items():
                cloud = make_cloud(planting, per_m2, **survey)
                with tempfile.TemporaryDirectory() as folder:
                    target, said = survey_of_cloud(cloud, Path(folder))
                    rows = f"{said['rows']} rows, {said['row_length_m']} m, cells {said['cell_m']}"
                    print(f"  {name:36} {len(cloud.posts):4} posts  {rows}  {judge(cloud, target)}", flush=True)
        return
    cells = [float(word) for word in sys.argv[1:]] or [0.02, 0.05, 0.1]
    for cell_m in cells:
        print(f"cells of {100.0 * cell_m:g} cm")
        for name, (planting, survey) in PLANTINGS.items():
            scene = make_dormant(planting, cell_m=cell_m, **survey)
            with tempfile.TemporaryDirectory() as folder:
                target, said = survey_of(scene, Path(folder))
                true_m = scene.inside.sum() * cell_m**2 / scene.rows.spacing_m
                rows = f"rows {float(str(said['row_length_m'])) / true_m:.2f}"
                print(f"  {name:36} {len(scene.posts):4} posts  {rows}  {judge(scene, target)}", flush=True)


if __name__ == "__main__":
    main()
