"""One block of 25 ha with cells of 5 cm: a plan, beside what bare libraries take for what must be read and written.

Run it as a script; it takes some minutes, half a GB of disk and 2 GB of memory. Processor seconds: of `wirerun plan`
without field sheets, in a process of its own; of GDAL reading the tiles under the block; of pyogrio with arrow writing
the ready layers, pyarrow the ready tables, and zlib the map's ready data.
"""

import base64
import gzip
import json
import re
import tempfile
from pathlib import Path

import numpy as np
import pyogrio
import rasterio
from affine import Affine
from bench_beside import least
from bench_growth import EAST, NORTH, measure, write_blocks
from pyarrow import Table, csv
from rasterio.windows import Window
from wirerun.api import plan_file
from wirerun.write.gis.layers import LAYERS, layer_frame

CELL_M, SIDE_M, MARGIN_M, TILE = 0.05, 500.0, 30.0, 256
_DATA = re.compile(r'id="plan-data">([^<]+)<')


def ground(path: Path) -> None:
    """Write sloping ground with waves, to the millimetre and with a centimetre of noise, strip by strip."""
    draw = np.random.default_rng(1)
    cells = int((SIDE_M + 2.0 * MARGIN_M) / CELL_M)
    place = Affine(CELL_M, 0.0, EAST, 0.0, -CELL_M, NORTH + cells * CELL_M)
    profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "crs": "EPSG:32629", "tiled": True, "compress": "lzw"}
    profile |= {"blockxsize": TILE, "blockysize": TILE, "width": cells, "height": cells, "transform": place}
    column = np.arange(cells) * CELL_M
    with rasterio.open(path, "w", **profile) as out:
        for top in range(0, cells, TILE):
            row = np.arange(top, min(top + TILE, cells))[:, None] * CELL_M
            waves = 1.5 * np.sin(column / 31.0) + 0.4 * np.sin((column + row) / 9.0)
            heights = 300.0 + 0.12 * column - 0.09 * row + waves + draw.normal(0.0, 0.01, (len(row), cells))
            out.write(np.round(heights, 3).astype(np.float32), 1, window=Window(0, top, cells, len(row)))
        out.set_band_unit(1, "metre")


def tiles(path: Path) -> None:
    """Read every tile under the block by itself."""
    with rasterio.open(path) as opened:
        first, last = (int(edge / CELL_M / TILE) for edge in (MARGIN_M, MARGIN_M + SIDE_M))
        for row in range(first, last + 1):
            for column in range(first, last + 1):
                opened.read(1, window=Window(TILE * column, TILE * row, TILE, TILE))


def main(folder: Path) -> None:
    """Measure and print."""
    ground(folder / "ground.tif")
    write_blocks(folder, [(MARGIN_M, MARGIN_M)], SIDE_M)
    seconds, most_mb = measure(
        ["plan", "config.toml", "--out", "out", "--only", "schedule", "--only", "gis", "--only", "map"], folder
    )
    print(f"plan of 25 ha, cells of 5 cm: {seconds:.1f} s, {most_mb:.0f} MB", flush=True)

    plan = plan_file(folder / "config.toml")
    layers = {layer.name: layer_frame(plan, layer, plan.output_crs) for layer in LAYERS}
    tables = {table: getattr(plan, name)[list(table.names)] for name, table in plan.written_tables.items()}
    found = _DATA.search((folder / "out" / "map.html").read_text(encoding="utf-8"))
    data = gzip.decompress(base64.b64decode(found[1])) if found else b""

    def write_layers() -> None:
        (folder / "bare.gpkg").unlink(missing_ok=True)
        for name, frame in layers.items():
            pyogrio.write_dataframe(frame, folder / "bare.gpkg", layer=name, driver="GPKG", use_arrow=True)

    def write_tables() -> None:
        for table, frame in tables.items():
            csv.write_csv(Table.from_pandas(frame, preserve_index=False), folder / f"{table.name}.csv")

    parts = {
        "GDAL, tiles": least(lambda: tiles(folder / "ground.tif")),
        "pyogrio": least(write_layers),
        "pyarrow": least(write_tables),
        "zlib": least(lambda: gzip.compress(data, 9)),
    }
    print(json.dumps({name: round(part, 2) for name, part in parts.items()}))
    print(f"{seconds / sum(parts.values()):.1f} x what these come to")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name_:
        main(Path(name_))
