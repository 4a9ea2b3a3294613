"""A large estate from start to end: seconds by the clock, of a processor, and the most memory of all its processes.

Run by hand: `python tests/benchmarks/bench_large_estate.py 200 10 0.25 --workers 2` (blocks, hectares of each, metres
of a cell; further words go to `wirerun estate`). With `--faults N` each N-th block is spoilt, by turns: its outline
crosses itself, its ground is missing, its ground has a cliff, its name stands twice. Made ground, as in
`bench_growth.py`.
"""

import json
import math
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import rasterio
from affine import Affine
from pyproj import Transformer
from rasterio.windows import Window

EAST, NORTH, EPSG = 617_400.0, 4_562_000.0, 32629
APART_M, STRIP = 10.0, 512
_TO_LONLAT = Transformer.from_crs(EPSG, 4326, always_xy=True)
CONFIG = (
    'name = "large"\n[block]\nboundary = "block.geojson"\nid_field = "block"\n[elevation]\nraster = "ground.tif"\n'
    "[rows]\nbearing_deg = 62.0\nspacing_m = 2.4\n"
)


def corners(blocks: int, side_m: float) -> tuple[np.ndarray, int, int]:
    """Return each block's south-west corner (block, xy) from the ground's own, and how many lie across and up."""
    across = max(1, min(blocks, math.isqrt(blocks)))
    up = math.ceil(blocks / across)
    at = np.arange(blocks)
    return np.stack([at % across, at // across], axis=1) * (side_m + APART_M) + 20.0, across, up


def write_ground(path: Path, wide_m: float, high_m: float, cell_m: float, spoilt: np.ndarray, side_m: float) -> None:
    """Write made ground a strip at a time; blocks at `spoilt` (south-west corner x, y, kind) get a hole or a cliff."""
    columns, rows = int(wide_m / cell_m), int(high_m / cell_m)
    place = Affine(cell_m, 0.0, EAST, 0.0, -cell_m, NORTH + high_m)
    profile = {"driver": "GTiff", "dtype": "float32", "count": 1, "crs": f"EPSG:{EPSG}", "nodata": -9999.0}
    tiles = {"tiled": True, "blockxsize": STRIP, "blockysize": STRIP, "compress": "deflate", "BIGTIFF": "YES"}
    with rasterio.open(path, "w", width=columns, height=rows, transform=place, **profile, **tiles) as out:
        for first in range(0, rows, STRIP):
            deep = min(STRIP, rows - first)
            south = (np.arange(first, first + deep)[:, None] + 0.5) * cell_m
            east = (np.arange(columns)[None, :] + 0.5) * cell_m
            ground = 300.0 + 0.12 * east - 0.09 * south + 1.5 * np.sin(east / 31.0) + 0.4 * np.sin((east + south) / 9.0)
            for x, y, kind in spoilt:
                inside = (np.abs(east - x - side_m / 2) < side_m / 4) & (
                    np.abs(high_m - south - y - side_m / 2) < side_m / 4
                )
                ground[inside] = -9999.0 if kind == 1 else ground[inside] + 400.0
            out.write(ground.astype(np.float32), 1, window=Window(0, first, columns, deep))
        out.set_band_unit(1, "metre")


def write(folder: Path, blocks: int, hectares: float, cell_m: float, every: int) -> None:
    """Write ground, outlines and config."""
    side_m = math.sqrt(hectares * 1e4)
    places, across, up = corners(blocks, side_m)
    kind = np.full(blocks, -1)
    if every:
        kind[every - 1 :: every] = np.arange(len(kind[every - 1 :: every])) % 4
    bad_ground = np.flatnonzero((kind == 1) | (kind == 2))
    spoilt = np.column_stack([places[bad_ground], kind[bad_ground]])
    pitch = side_m + APART_M
    write_ground(folder / "ground.tif", pitch * across + 40.0, pitch * up + 40.0, cell_m, spoilt, side_m)
    ring = np.array([(0.0, 0.0), (side_m, 1.0), (side_m - 2.0, side_m), (1.0, side_m - 1.0), (0.0, 0.0)])
    features = []
    for number, (x, y) in enumerate(places):
        turn = [0, 2, 1, 3, 4] if kind[number] == 0 else [0, 1, 2, 3, 4]
        lonlat = np.column_stack(_TO_LONLAT.transform(*(ring[turn] + [x + EAST, y + NORTH]).T))
        shape = {"type": "Polygon", "coordinates": [lonlat.tolist()]}
        name = f"B{number - 1 if kind[number] == 3 else number:05d}"
        features.append({"type": "Feature", "properties": {"block": name}, "geometry": shape})
    (folder / "block.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    (folder / "config.toml").write_text(CONFIG)


def memory_mb(group: int) -> float:
    """Return the memory of all processes of a group, what they share counted once (Linux)."""
    found = 0
    for process in Path("/proc").glob("[0-9]*"):
        try:
            if os.getpgid(int(process.name)) == group:
                found += sum(
                    map(int, re.findall(r"^Pss:\s+(\d+)", (process / "smaps_rollup").read_text(), re.MULTILINE))
                )
        except OSError:  # it is gone
            continue
    return found / 1e3


def watch(words: list[str], folder: Path) -> tuple[int, float, float, float]:
    """Run the estate; return exit code, seconds, processor seconds and the most MB of all its processes at one time."""
    began, most = time.perf_counter(), 0.0
    command = [sys.executable, "-m", "wirerun", "estate", "config.toml", "--out", "out", *words]
    run = subprocess.Popen(command, cwd=folder, start_new_session=True)  # noqa: S603 - our own words
    while run.poll() is None:
        most = max(most, memory_mb(run.pid))
        time.sleep(0.5)
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return run.returncode, time.perf_counter() - began, spent.ru_utime + spent.ru_stime, most


if __name__ == "__main__":
    count, size, cell, *rest = sys.argv[1:]
    bad = int(rest[rest.index("--faults") + 1]) if "--faults" in rest else 0
    words_ = [word for at, word in enumerate(rest) if word != "--faults" and (at == 0 or rest[at - 1] != "--faults")]
    with tempfile.TemporaryDirectory() as name_:
        write(Path(name_), int(count), float(size), float(cell), bad)
        code, clock, cpu, most_mb = watch(words_, Path(name_))
        weight = sum(file.stat().st_size for file in Path(name_, "out").rglob("*") if file.is_file()) / 1e6
        print(
            f"{count} blocks of {size} ha: exit {code}, {clock:.0f} s by the clock, {cpu:.0f} s of a processor, "
            f"{most_mb:.0f} MB at most, {weight:.0f} MB written",
            flush=True,
        )
