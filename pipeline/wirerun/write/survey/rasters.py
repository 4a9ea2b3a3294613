"""Rasters of a survey, written tile by tile and turned into cloud-optimised GeoTIFFs when whole."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from rasterio._err import CPLE_BaseError
from rasterio.errors import RasterioError
from rasterio.shutil import copy as copy_raster
from rasterio.windows import Window

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.work_grid import Cells, WorkGrid
from wirerun.write.folder import room_at
from wirerun.write.library_errors import not_written

NODATA: Final = -9999.0
_TILE: Final = 256
#: Files by what they hold.
GROUND, DIFFERENCE, CONFIDENCE = "ground.tif", "difference.tif", "confidence.tif"
_BANDS: Final = {
    GROUND: (("ground height", "metre"),),
    DIFFERENCE: (("surface less ground", "metre"),),
    CONFIDENCE: (("confidence, 0 to 1", ""), ("how far the height comes from; 0 none", "metre")),
}
# Choice: a tenth of a millimetre, and files half as large.
_STEP_M: Final = 1.0 / 8192.0
_SHARE_STEP: Final = 1.0 / 256.0
# Four bands of four bytes; of them as many wait to be written, packed, as the library keeps (`read.survey_source`); a
# cloud-optimised copy is made of its draft and of the coarser looks at it. Room for them unpacked is asked for.
_BYTES_A_CELL: Final = 16
_MOST_WAITING: Final = 128e6
_TIMES_DRAFT: Final = 2.0


@dataclass(frozen=True, slots=True)
class GroundFiles:
    """The rasters in a folder while they are written."""

    folder: Path
    files: dict[str, Any]
    put_bytes: list[int] = field(default_factory=list)

    def put(
        self, cells: Cells, where: BoolArray, ground_m: FloatArray, difference_m: FloatArray, how: FloatArray
    ) -> None:
        """Write a tile; `how` is confidence and reach, shape (2, rows, columns). No height where `where` is False."""
        window = Window(cells.left, cells.top, cells.shape[1], cells.shape[0])
        self.put_bytes.append(_BYTES_A_CELL * where.size)
        _need_room(self.folder / GROUND, min(sum(self.put_bytes), _MOST_WAITING))
        known = where & (how[1] > 0.0)
        rounded = [np.rint(heights / _STEP_M) * _STEP_M for heights in (ground_m, difference_m)]
        ground, difference = (np.where(known, heights, NODATA).astype(np.float32) for heights in rounded)
        self.files[GROUND].write(ground, 1, window=window)
        self.files[DIFFERENCE].write(difference, 1, window=window)
        share = np.rint(how[0] / _SHARE_STEP) * _SHARE_STEP
        both = np.where(where, np.stack([share, how[1]]), NODATA).astype(np.float32)
        self.files[CONFIDENCE].write(both, window=window)


def _need_room(path: Path, wanted: float) -> None:
    """Tell of a full disk before the raster library meets it: that one writes lines of its own to the terminal."""
    if room_at(path.parent) < wanted:
        raise not_written(path, "the disk is full")


@contextmanager
def _telling(path: Path) -> Iterator[None]:
    """Tell what the raster library says of a file that it could not write, and how much room there is."""
    try:
        yield
    except (CPLE_BaseError, RasterioError) as reason:
        raise not_written(path, "it was not written whole") from reason


@contextmanager
def ground_files(folder: Path, grid: WorkGrid) -> Iterator[GroundFiles]:
    """Open the rasters of a survey in a folder; at the end of the block they stand there, cloud-optimised.

    Raises
    ------
    OSError
        If they cannot be written.
    """
    drafts = {name: folder / f".{name}" for name in _BANDS}
    try:
        # A full disk is told of when a file is closed, too, and then in words of the library's own.
        with _telling(folder / GROUND), ExitStack() as files:
            opened = {}
            for name, bands in _BANDS.items():
                opened[name] = file = files.enter_context(
                    rasterio.open(drafts[name], "w", **_profile(grid, len(bands)))
                )
                file.descriptions = [text for text, _ in bands]
                file.units = [unit for _, unit in bands]
                file.update_tags(AREA_OR_POINT="Area")
            yield GroundFiles(folder, opened)
        for name, draft in drafts.items():
            _need_room(folder / name, _TIMES_DRAFT * draft.stat().st_size)
            with _telling(folder / name):
                copy_raster(
                    draft,
                    folder / name,
                    driver="COG",
                    compress="DEFLATE",
                    predictor="YES",
                    level="9",
                    blocksize=_TILE,
                    overviews="AUTO",
                    overview_resampling="AVERAGE",
                    bigtiff="IF_SAFER",
                    num_threads="ALL_CPUS",
                )
    finally:
        for draft in drafts.values():
            draft.unlink(missing_ok=True)


def _profile(grid: WorkGrid, bands: int) -> dict[str, Any]:
    return {
        "driver": "GTiff",
        "dtype": "float32",
        "count": bands,
        "height": grid.shape[0],
        "width": grid.shape[1],
        "crs": grid.crs_wkt,
        "transform": grid.transform,
        "nodata": NODATA,
        "tiled": True,
        "blockxsize": _TILE,
        "blockysize": _TILE,
        "compress": "deflate",
        "zlevel": 1,
        "sparse_ok": True,
        "bigtiff": "IF_SAFER",
    }
