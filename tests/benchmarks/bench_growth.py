"""How time and memory of a plan grow with a block's size, and those of an estate with the number of its blocks.

Run by hand: `python tests/benchmarks/bench_growth.py 1 2 5 10 25` (hectares of one block), or with `--blocks 1 5 25`
(blocks of half a hectare, through `estate`). Each in a process of its own, on made ground with cells of half a metre.
"""

import json
import math
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from pyproj import Transformer

EAST, NORTH, CELL_M = 617_400.0, 4_562_000.0, 0.5
_TO_LONLAT = Transformer.from_crs("EPSG:32629", "EPSG:4326", always_xy=True)


def write(folder: Path, side_m: float, count: int) -> None:
    """Write square blocks side by side in rows of five, the ground under them and a config."""
    across = min(count, 5)
    pitch = side_m + 10.0
    wide, high = pitch * across + 40.0, pitch * math.ceil(count / across) + 40.0
    row, column = np.mgrid[0 : int(high / CELL_M), 0 : int(wide / CELL_M)] * CELL_M
    ground = 300.0 + 0.12 * column - 0.09 * row + 1.5 * np.sin(column / 31.0) + 0.4 * np.sin((column + row) / 9.0)
    profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "crs": "EPSG:32629", "tiled": True, "compress": "lzw"}
    place = Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, NORTH + high)
    with rasterio.open(
        folder / "ground.tif", "w", width=ground.shape[1], height=ground.shape[0], transform=place, **profile
    ) as out:
        out.write(ground.astype(np.float32), 1)
        out.set_band_unit(1, "metre")
    corners = [(20.0 + pitch * (number % across), 20.0 + pitch * (number // across)) for number in range(count)]
    write_blocks(folder, corners, side_m)


def write_blocks(folder: Path, corners: list[tuple[float, float]], side_m: float) -> None:
    """Write nearly square blocks, by their south-western corners, and a config."""
    features = []
    for number, (x, y) in enumerate(corners):
        ring = [(x, y), (x + side_m, y + 1.0), (x + side_m - 2.0, y + side_m), (x + 1.0, y + side_m - 1.0), (x, y)]
        lonlat = [list(_TO_LONLAT.transform(EAST + east, NORTH + north)) for east, north in ring]
        shape = {"type": "Polygon", "coordinates": [lonlat]}
        features.append({"type": "Feature", "properties": {"block": f"B{number:03d}"}, "geometry": shape})
    (folder / "block.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    (folder / "config.toml").write_text(
        'name = "growth"\n[block]\nboundary = "block.geojson"\nid_field = "block"\n[elevation]\nraster = "ground.tif"\n'
        "[rows]\nbearing_deg = 62.0\nspacing_m = 2.4\n"
    )


def measure(words: list[str], folder: Path) -> tuple[float, float]:
    """Return processor seconds and the most megabytes of a command; this process must have no larger child before."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(  # noqa: S603 - our own words
        [sys.executable, "-m", "wirerun", *words, "--quiet"], cwd=folder, check=True, stderr=subprocess.DEVNULL
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, after.ru_maxrss / 1e3


if __name__ == "__main__":
    by_blocks = sys.argv[1] == "--blocks"
    for size in map(float, sys.argv[2:] if by_blocks else sys.argv[1:]):
        with tempfile.TemporaryDirectory() as name:
            write(Path(name), math.sqrt(5000.0) if by_blocks else math.sqrt(size * 1e4), int(size) if by_blocks else 1)
            command = ["estate"] if by_blocks else ["plan", "--only", "schedule", "--only", "gis", "--only", "map"]
            seconds_, most_mb = measure([command[0], "config.toml", "--out", "out", *command[1:]], Path(name))
            unit = "blocks" if by_blocks else "ha"
            print(f"{size:g} {unit}: {seconds_:.1f} s, {seconds_ / size:.2f} s each, {most_mb:.0f} MB", flush=True)
