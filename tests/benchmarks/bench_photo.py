"""How near rows come to the truth that are found in an orthophoto alone.

Run ``python tests/benchmarks/bench_photo.py``: a few minutes. Each photo (`photo_scenes.py`, of the scenes of
`survey_scenes.py`) is written as a GeoTIFF and goes through `wirerun survey` without any heights. Recall is the
share of vines that a found row comes within 0.3 m of, precision the share of the found length within 0.3 m of a true
row; offsets are from the true middle of the canopy. The direction is that of straight rows alone.
"""

import json
import tempfile
from pathlib import Path

import geopandas as gpd
import numpy as np
import rasterio
import shapely
from affine import Affine
from numpy.typing import NDArray
from photo_scenes import LEAVES, STRAW, Light, photo_of
from pyproj import Geod, Transformer
from survey_scenes import Rows, Scene, made_ground, make_scene
from wirerun.api import survey_file

FloatArray = NDArray[np.float64]

CRS = "EPSG:32629"
EAST, NORTH = 617_400.0, 4_562_000.0
_NEAR_M = 0.3
_STATION_M = 0.5

CASES = {
    "soil and some grass": (Rows(), Light()),
    "soil and some grass, near infrared": (Rows(), Light(bands=4)),
    "grass on all alleys": (Rows(), Light(grass=1.0)),
    "grass on all alleys, near infrared": (Rows(), Light(grass=1.0, bands=4)),
    "low sun, long shadows": (Rows(), Light(sun_deg=25.0)),
    "low sun, near infrared": (Rows(), Light(sun_deg=25.0, bands=4)),
    "arcs of 120 m": (Rows(radius_m=120.0), Light()),
    "low vines, 1.8 m rows": (Rows(1.8, 117.0, canopy_m=0.45, high_m=0.9), Light()),
    "light falls off by half": (Rows(), Light(fall_off=0.6)),
    "leaves laid 17 cm aside": (Rows(), Light(aside_deg=8.0)),
    "grass as green as the leaves": (Rows(), Light(grass=1.0, grass_colour=LEAVES)),
    "dormant: straw on soil": (Rows(), Light(grass=0.0, leaf_colour=STRAW)),
}


Found = tuple[gpd.GeoDataFrame | None, dict[str, object]]


def survey_of(scene: Scene, photo: NDArray[np.uint8], folder: Path) -> Found:
    """Write a photo and survey it; return the rows that were found and what survey.json says."""
    bands, rows, columns = photo.shape
    corner = Affine(scene.cell_m, 0.0, EAST, 0.0, -scene.cell_m, NORTH + rows * scene.cell_m)
    profile = {"driver": "GTiff", "dtype": "uint8", "count": bands, "height": rows, "width": columns, "crs": CRS}
    if bands > 3:
        profile["alpha"] = "no"
    with rasterio.open(folder / "photo.tif", "w", **profile, photometric="RGB", transform=corner) as out:
        out.write(photo)
    wide, high = columns * scene.cell_m, rows * scene.cell_m
    edge = [(7.0, 6.0 + 0.42), (wide - 8.0, 6.0 + 0.06 * (wide - 8.0)), (wide - 8.0, high - 7.0 - 0.04 * (wide - 8.0))]
    edge += [(7.0, high - 7.28), (7.0, 6.42)]
    to_lonlat = Transformer.from_crs(CRS, "OGC:CRS84", always_xy=True)
    ring = [list(to_lonlat.transform(EAST + x, NORTH + y)) for x, y in edge]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "block.geojson").write_text(json.dumps(feature))
    text = 'name = "photo"\n[block]\nboundary = "block.geojson"\n[survey]\northophoto = "photo.tif"\n'
    (folder / "survey.toml").write_text(text)
    _, target = survey_file(folder / "survey.toml", folder / "out", overwrite=True)
    found = target / "rows.gpkg"
    return gpd.read_file(found) if found.exists() else None, json.loads((target / "survey.json").read_text())


def judge(scene: Scene, found: gpd.GeoDataFrame | None, said: dict[str, object]) -> str:
    """Say how the found rows compare with the true ones."""
    if found is None:
        return "no rows"
    length = right = 0.0
    offsets = []
    for line in found.geometry:
        at = shapely.get_coordinates(shapely.segmentize(line, _STATION_M))
        place = scene.rows.place(at[:, 0] - EAST, at[:, 1] - NORTH)[0]
        off = np.abs(place - np.round(place)) * scene.rows.spacing_m
        good = off < _NEAR_M
        length, right = length + line.length, right + line.length * float(good.mean())
        offsets.append(off[good])
    off = np.concatenate(offsets)
    down, across = (index[::20] for index in np.nonzero(scene.vines))
    east = EAST + (across + 0.5) * scene.cell_m
    north = NORTH + (scene.surface_m.shape[0] - down - 0.5) * scene.cell_m
    reached = shapely.distance(found.geometry.union_all(), shapely.points(east, north)) < _NEAR_M
    spacing = abs(float(str(said["spacing_m"])) - scene.rows.spacing_m)
    turn = turned_deg(scene, float(str(said["bearing_deg"])))
    trust = f"confidence {found['confidence'].mean():.2f}"
    median, worst = np.quantile(off, [0.5, 0.95]) if off.size else (np.nan, np.nan)
    return (
        f"{reached.mean():.3f} {right / length:.3f}  {100.0 * median:4.1f} {100.0 * worst:4.1f} cm  "
        f"{100.0 * spacing:6.2f} cm  {turn:5.3f} deg  {trust}"
    )


def turned_deg(scene: Scene, bearing_deg: float) -> float:
    """Return how far a bearing from true north is off the scene's straight rows, NaN where they turn [deg]."""
    if scene.rows.radius_m:
        return float("nan")
    turn = np.radians(scene.rows.bearing_deg)
    middle = EAST + 0.5 * scene.surface_m.shape[1] * scene.cell_m, NORTH + 0.5 * scene.surface_m.shape[0] * scene.cell_m
    ends = np.array([middle, np.add(middle, 300.0 * np.array([np.sin(turn), np.cos(turn)]))])
    lon, lat = Transformer.from_crs(CRS, "OGC:CRS84", always_xy=True).transform(*ends.T)
    true = Geod(ellps="WGS84").inv(lon[0], lat[0], lon[1], lat[1])[0]
    return float(abs((bearing_deg - true + 90.0) % 180.0 - 90.0))


def main() -> None:
    """Print the table."""
    print("Rows of an orthophoto: recall, precision; offset median and 95 %; spacing off; direction off; confidence")
    ground = made_ground(0.25, 3)
    for name, (rows, light) in CASES.items():
        scene = make_scene(ground, rows, noise_m=1e-9, seed=1)
        with tempfile.TemporaryDirectory() as folder:
            print(f"  {name:36} {judge(scene, *survey_of(scene, photo_of(scene, light), Path(folder)))}", flush=True)


if __name__ == "__main__":
    main()
