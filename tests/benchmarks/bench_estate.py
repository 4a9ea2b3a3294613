"""How an estate grows with its blocks: processor seconds and memory of 1, 2, 4 ... blocks against those of one.

Run: ``python tests/benchmarks/bench_estate.py``; numbers of blocks may follow. Square blocks of half a hectare on made
ground, each run in a process of its own: tables, GIS layers and maps, no field sheets. Linear growth is a ratio of 1.
"""

import json
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import rasterio
import shapely
from affine import Affine
from pyproj import Transformer

SIDE_M, APART_M, CELL_M = 70.0, 90.0, 0.5
EAST, NORTH = 600_000.0, 4_560_000.0
CONFIG = (
    'name = "bench"\n[block]\nboundary = "block.geojson"\nid_field = "block"\n[elevation]\nraster = "ground.tif"\n'
    "[rows]\nbearing_deg = 62.0\nspacing_m = 2.4\n"
)
RUN = "import sys; from wirerun.cli import main; sys.argv = ['wirerun', *sys.argv[1:]]; main()"


def write_estate(folder: Path, blocks: int) -> None:
    """Write ground, outlines and config: blocks in rows of twenty."""
    folder.mkdir()
    wide, high = min(blocks, 20), -(-blocks // 20)
    cells = [int((count * APART_M + 20.0) / CELL_M) for count in (high, wide)]
    y, x = np.mgrid[0 : cells[0], 0 : cells[1]] * np.float32(CELL_M)
    heights = 400.0 + 0.08 * x + 1.2 * np.sin(x / 9.0) * np.cos(y / 14.0) + 0.35 * np.sin((x + y) / 4.0)
    profile = {
        "driver": "GTiff",
        "dtype": "float32",
        "count": 1,
        "height": cells[0],
        "width": cells[1],
        "crs": "EPSG:25829",
        "transform": Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, NORTH),
        "tiled": True,
    }
    with rasterio.open(folder / "ground.tif", "w", **profile) as out:
        out.write(heights.astype(np.float32), 1)
    to_lonlat = Transformer.from_crs("EPSG:25829", "EPSG:4326", always_xy=True)
    features = []
    for at in range(blocks):
        west, north = EAST + 15.0 + (at % 20) * APART_M, NORTH - 15.0 - (at // 20) * APART_M
        square = shapely.box(west, north - SIDE_M, west + SIDE_M, north)
        area = shapely.transform(square, lambda xy: np.column_stack(to_lonlat.transform(*xy.T)))
        properties = {"block": f"B{at + 1:03d}"}
        features.append({"type": "Feature", "properties": properties, "geometry": shapely.geometry.mapping(area)})
    (folder / "block.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    (folder / "bench.toml").write_text(CONFIG)


def run(folder: Path) -> tuple[float, float]:
    """Return processor seconds and greatest memory [MB] of the whole run."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    words = [sys.executable, "-c", RUN, "estate", str(folder / "bench.toml"), "--out", str(folder / "out"), "--quiet"]
    subprocess.run(words, check=True, capture_output=True)  # noqa: S603 - our own words
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, after.ru_maxrss / 1024.0


def main() -> None:
    """Print the table."""
    print("blocks   seconds   seconds a block beyond the first / those of the fewest   memory, MB   / of one block")
    first: tuple[float, float] | None = None
    least: float | None = None
    with tempfile.TemporaryDirectory() as folder:
        for blocks in [1, *([int(word) for word in sys.argv[1:]] or [2, 4, 8, 16])]:
            write_estate(Path(folder) / str(blocks), blocks)
            seconds, memory = run(Path(folder) / str(blocks))
            first = first or (seconds, memory)
            each = (seconds - first[0]) / (blocks - 1) if blocks > 1 else 0.0
            least = least or each or None
            ratio = f"{each / least:10.2f}" if least else " " * 10
            print(f"{blocks:6d} {seconds:9.1f} {each:16.2f} {ratio:>25s} {memory:30.0f} {memory / first[1]:13.2f}")


if __name__ == "__main__":
    main()
