"""What a step costs beside the library that could do it barely: each pair in one run, as ratios.

Run it as a script; it takes a minute or two. Processor seconds, the least of some turns by each way:

- heights of 160 000 places on cells of 5 cm, beside GDAL reading the tiles under them, and beside scipy's
  `map_coordinates` on the whole raster, with the most memory that both hold;
- a GeoPackage of the sample's plan, beside pyogrio with arrow writing the same layers and tables, ready made;
- the schedule's tables as CSV, beside pandas;
- `wirerun --help`, beside a Python that does nothing.
"""

import resource
import subprocess
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pyogrio
import rasterio
from affine import Affine
from numpy.typing import NDArray
from rasterio.windows import Window
from scipy.ndimage import map_coordinates
from wirerun.api import plan_file
from wirerun.errors import Faults
from wirerun.geometry.sampling import bilinear
from wirerun.read.height_unit import Says
from wirerun.read.raster import open_raster, read_window
from wirerun.records import Grid, Plan
from wirerun.tables import Table
from wirerun.write.gis.attributes import attributes_of
from wirerun.write.gis.geopackage import write_gis
from wirerun.write.gis.layers import LAYERS, layer_frame
from wirerun.write.schedule import csv_bytes

CONFIG = Path(__file__).parents[2] / "configs" / "encosta_nova.toml"
SIDE, BLOCK, PLACES, CELL_M, TURNS = 10_000, 6_400, 160_000, 0.05, 3


def least(work: Callable[[], object]) -> float:
    """Return the fewest processor seconds that a call takes."""
    found = []
    for _ in range(TURNS):
        start = time.process_time()
        work()
        found.append(time.process_time() - start)
    return min(found)


def most_mb(work: Callable[[], object]) -> float:
    """Return the most megabytes that a call holds."""
    tracemalloc.start()
    work()
    most = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    return most


def of_a_process(*words: str) -> float:
    """Return the fewest processor seconds of a process."""
    found = []
    for _ in range(TURNS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)  # noqa: S603 - our own words
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found)


def raster(path: Path) -> None:
    """Write rough ground of 500 m on tiles of 256 cells."""
    draw = np.random.default_rng(1)
    profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "crs": "EPSG:32629", "tiled": True, "compress": "lzw"}
    place = Affine(CELL_M, 0.0, 617_000.0, 0.0, -CELL_M, 4_562_000.0)
    profile |= {"blockxsize": 256, "blockysize": 256, "width": SIDE, "height": SIDE, "transform": place}
    with rasterio.open(path, "w", **profile) as out:
        for top in range(0, SIDE, 256):
            high = min(256, SIDE - top)
            heights = 300.0 + draw.normal(0.0, 0.02, (high, SIDE)) + 0.005 * np.arange(SIDE)
            out.write(heights.astype(np.float32), 1, window=Window(0, top, SIDE, high))
        out.set_band_unit(1, "metre")


def sampling(path: Path) -> None:
    """Print how heights of a block's places are had."""
    places = np.random.default_rng(2).uniform(1_000.0, 1_000.0 + BLOCK, (2, PLACES))
    window = Window(998, 998, BLOCK + 5, BLOCK + 5)

    def ours() -> NDArray[np.float64]:
        with open_raster(str(path), path.parent, Says(), Faults()) as opened:
            assert opened is not None
            got = read_window(opened, window)
            grid = Grid(got.heights_m, got.valid, opened.transform, opened.crs.to_wkt(), "bench")
            return bilinear(grid, places[0] - window.col_off, places[1] - window.row_off)

    def tiles() -> None:
        with rasterio.open(path) as opened:
            column, row = np.unique((places // 256).astype(int), axis=1)
            for at_c, at_r in zip(column.tolist(), row.tolist(), strict=True):
                opened.read(1, window=Window(256 * at_c, 256 * at_r, 256, 256))

    def theirs() -> NDArray[np.float64]:
        with rasterio.open(path) as opened:
            return np.asarray(map_coordinates(opened.read(1), (places - 0.5)[::-1], order=1))

    assert np.allclose(ours(), theirs(), atol=1e-3)
    mine = least(ours)
    print(
        f"heights: {mine / least(tiles):.2f} of reading the touched tiles; map_coordinates {least(theirs) / mine:.1f} x"
    )
    print(f"         in {most_mb(ours) / most_mb(theirs):.2f} of its memory")


def geopackage(plan: Plan, folder: Path) -> None:
    """Print how long a GeoPackage takes."""
    layers = {layer.name: layer_frame(plan, layer, plan.output_crs) for layer in LAYERS}
    tables = {table.name: getattr(plan, name)[list(table.names)] for name, table in attributes_of(plan).items()}

    def bare() -> None:
        (folder / "bare.gpkg").unlink(missing_ok=True)
        for name, frame in layers.items():
            pyogrio.write_dataframe(frame, folder / "bare.gpkg", layer=name, driver="GPKG", use_arrow=True)
        for name, frame in tables.items():
            if len(frame):
                pyogrio.write_dataframe(frame, folder / "bare.gpkg", layer=name, driver="GPKG", use_arrow=True)

    mine, theirs = (least(work) for work in (lambda: write_gis(plan, folder / "plan.gpkg"), bare))
    print(f"GeoPackage: {mine / theirs:.2f} of pyogrio with arrow, with the frames, styles, comments and reading back")


def schedule(plan: Plan) -> None:
    """Print how long the schedule's tables take."""
    written: list[Table] = list(plan.written_tables.values())
    tables: list[tuple[Table, pd.DataFrame]] = [(table, getattr(plan, table.name)) for table in written]
    mine = least(lambda: [csv_bytes(table, frame) for table, frame in tables])
    theirs = least(lambda: [frame[list(table.names)].to_csv(index=False) for table, frame in tables])
    print(f"CSV: pandas {theirs / mine:.1f} x")


if __name__ == "__main__":
    print(
        f"--help: {of_a_process('-m', 'wirerun', '--help') / of_a_process('-c', 'pass'):.1f} x a bare Python",
        flush=True,
    )
    with tempfile.TemporaryDirectory() as name:
        raster(Path(name) / "ground.tif")
        sampling(Path(name) / "ground.tif")
        made = plan_file(CONFIG)
        schedule(made)
        geopackage(made, Path(name))
