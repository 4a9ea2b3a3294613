"""How memory and time of a survey grow with its size: surfaces of 25 million cells and far more, as files on a disk.

Run by hand: ``python tests/benchmarks/bench_survey_size.py 25 100 400`` (millions of cells of 5 cm; whole squares of
100 m), with ``--one-block`` for one block over all of it instead of blocks of 16 ha. Each survey goes through the
command in a process of its own; printed are processor seconds, the most memory, and what it took of the disk. Tiles are
copies of one that goes on at its edges; all is deleted again. Some 1.5 bytes of disk a cell of the surface, and 3 more
for what is made of it.
"""

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import Transformer
from scipy.ndimage import gaussian_filter

EAST, NORTH, CELL_M, TILE = 617_400.0, 4_562_000.0, 0.05, 2000
_SPACING_M, _CANOPY_M, _ROAD_M, _BLOCK_M = 2.5, 0.7, 10.0, 400.0
_STEP_M = 1.0 / 1024.0  # a millimetre, so that tiles can be packed


def pattern() -> NDArray[np.float32]:
    """Return a tile of 100 m with rows from south to north that goes on at all its edges."""
    rng = np.random.default_rng(1)
    y, x = (np.indices((TILE, TILE)) + 0.5) * CELL_M
    turn = 2.0 * np.pi / (TILE * CELL_M)
    ground = 300.0 + 2.0 * np.sin(turn * x) * np.cos(turn * y) + 0.3 * np.sin(4.0 * turn * (x + y))
    off = np.abs((x / _SPACING_M) % 1.0 - 0.5) * _SPACING_M
    ragged = gaussian_filter(rng.standard_normal((TILE, TILE)), 8.0, mode="wrap")
    half = 0.5 * _CANOPY_M * (1.0 + 0.25 * ragged / ragged.std())
    gone = gaussian_filter(rng.standard_normal((TILE, TILE)), (25.0, 1.0), mode="wrap")
    vines = np.where((off < half) & (gone < 1.3 * gone.std()), 1.3 - 1.5 * off, 0.0)
    noise = gaussian_filter(rng.standard_normal((TILE, TILE)), 15.0, mode="wrap")
    seen = gaussian_filter(ground + vines, 1.2, mode="wrap") + 0.03 * noise / noise.std()
    seen += rng.normal(0.0, 0.015, seen.shape)
    return np.asarray(np.rint(seen / _STEP_M) * _STEP_M, dtype=np.float32)


def write(folder: Path, across: int, *, one_block: bool) -> int:
    """Write a square survey of so many tiles across, its blocks and a config; return how many bytes its surface has."""
    profile = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "width": TILE,
        "height": TILE,
        "crs": "EPSG:32629",
        "tiled": True,
        "compress": "deflate",
        "predictor": 3,
        "zlevel": 6,
    }
    with rasterio.open(folder / "one.tif", "w", transform=Affine.scale(CELL_M, -CELL_M), **profile) as out:
        out.write(pattern(), 1)
        out.set_band_unit(1, "metre")
    packed = (folder / "one.tif").read_bytes()
    (folder / "one.tif").unlink()
    (folder / "tiles").mkdir()
    side_m = TILE * CELL_M
    for row in range(across):
        for column in range(across):
            path = folder / "tiles" / f"{row:03d}_{column:03d}.tif"
            path.write_bytes(packed)
            with rasterio.open(path, "r+") as tile:
                corner = EAST + column * side_m, NORTH + (across - row) * side_m
                tile.transform = Affine.translation(*corner) * Affine.scale(CELL_M, -CELL_M)
    count = 1 if one_block else max(1, int(across * side_m // _BLOCK_M))
    pitch = across * side_m / count
    half = _ROAD_M / 2.0
    edges = [pitch * place + end for place in range(count) for end in (half, pitch - half)]
    to_lonlat = Transformer.from_crs("EPSG:32629", "OGC:CRS84", always_xy=True)
    features = []
    for south, north in zip(edges[::2], edges[1::2], strict=True):
        for west, east in zip(edges[::2], edges[1::2], strict=True):
            ring = [(west, south), (east, south), (east, north), (west, north), (west, south)]
            lonlat = [list(to_lonlat.transform(EAST + x, NORTH + y)) for x, y in ring]
            shape = {"type": "Polygon", "coordinates": [lonlat]}
            features.append({"type": "Feature", "properties": {}, "geometry": shape})
    (folder / "blocks.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    (folder / "survey.toml").write_text(
        'name = "size"\n[block]\nboundary = "blocks.geojson"\n[survey]\nsurface = "tiles"\n'
    )
    return across * across * len(packed)


def measure(folder: Path) -> tuple[float, float, float, float]:
    """Run the command: seconds of a processor and by the clock, most megabytes in memory, most bytes of results."""
    begun = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-m", "wirerun", "survey", "survey.toml", "--out", "out", "--quiet"], cwd=folder
    )
    most = 0
    while True:
        done, status, used = os.wait4(child.pid, os.WNOHANG)
        if done:
            break
        most = max(most, sum(_size(path) for path in folder.rglob("*") if "tiles" not in path.parts))
        time.sleep(0.5)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise SystemExit(child.returncode)
    return used.ru_utime + used.ru_stime, time.perf_counter() - begun, used.ru_maxrss / 1e3, float(most)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def main() -> None:
    """Print a line a size."""
    parser = argparse.ArgumentParser()
    parser.add_argument("millions", type=float, nargs="+")
    parser.add_argument("--one-block", action="store_true")
    parser.add_argument("--folder", type=Path, help="where the files go meanwhile")
    asked = parser.parse_args()
    for millions in asked.millions:
        across = max(1, round(math.sqrt(millions * 1e6) / TILE))
        cells = (across * TILE) ** 2 / 1e6
        with tempfile.TemporaryDirectory(dir=asked.folder) as name:
            read = write(Path(name), across, one_block=asked.one_block)
            seconds, wall, memory, disk = measure(Path(name))
            print(
                f"{cells:7.0f} million cells: {seconds:6.0f} s of a processor ({seconds / cells:.2f} a million), "
                f"{wall:.0f} s; {memory:5.0f} MB of memory; disk {disk / 1e9:.2f} GB, surface {read / 1e9:.2f} GB",
                flush=True,
            )


if __name__ == "__main__":
    main()
