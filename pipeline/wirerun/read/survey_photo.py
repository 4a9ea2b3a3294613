"""The orthophoto of a survey: its colours on the cells that rows are looked for in."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import rasterio
import shapely
from affine import Affine
from pyproj import CRS, Transformer
from rasterio.enums import ColorInterp, Resampling
from rasterio.errors import RasterioError
from rasterio.vrt import WarpedVRT

from wirerun.arrays import FloatArray
from wirerun.errors import Faults
from wirerun.read.crs import WGS84, horizontal_crs
from wirerun.read.geotiff import SEALED, is_tiff, open_geotiff, why_no_position, why_not_alone
from wirerun.read.library_errors import told
from wirerun.read.plain_file import part, plain_file, source
from wirerun.read.polygons import GEOD
from wirerun.records import Block, Source
from wirerun.settings import Config
from wirerun.surface.work_grid import STEP, WorkGrid
from wirerun.wording import many

# Cells of the work where there are no heights; ground round the blocks; a CRS whose metre is off by more than this is
# not worked in. Choices.
_CELL_M, _BEYOND_M, _MOST_OFF = 0.1, 10.0, 0.01
_COLOURS: Final = (ColorInterp.red, ColorInterp.green, ColorInterp.blue)


@dataclass(frozen=True, slots=True)
class SurveyPhoto:
    """An open orthophoto: `bands` are those of red, green, blue, and near infrared if it has that."""

    given: str
    photo: Any
    crs: CRS
    bands: tuple[int, ...]
    source: Source

    @property
    def index_name(self) -> str:
        """Return what greenness is called that is made of its bands."""
        return "NDVI" if len(self.bands) > 3 else "excess green"

    def read(self, transform: Affine, shape: tuple[int, int], crs_wkt: str) -> FloatArray:
        """Return means of the bands on cells of a grid, [band, row, column]; 0 where nothing is known.

        Raises
        ------
        InputError
            If the file is damaged there.
        """
        try:
            with WarpedVRT(
                self.photo,
                src_crs=self.crs.to_wkt(),
                crs=crs_wkt,
                transform=transform,
                height=shape[0],
                width=shape[1],
                resampling=Resampling.average,
                add_alpha=ColorInterp.alpha not in self.photo.colorinterp,
            ) as warped:
                colours = warped.read(list(self.bands)).astype(np.float64)
                seen = warped.dataset_mask() > 0
        except RasterioError:
            faults = Faults()
            faults.add(self.given, "", "the GeoTIFF is damaged where the blocks lie: it cannot be read")
            faults.stop_if_any()
            raise
        return np.where(seen & np.isfinite(colours).all(axis=0), colours, 0.0)


@contextmanager
def open_photo(config: Config, faults: Faults) -> Iterator[SurveyPhoto | None]:
    """Look `survey.orthophoto` over, to be read within the block; None without one, or with every fault of it told."""
    given = config.survey.orthophoto
    real = plain_file(config.path(given), given, faults) if given is not None else None
    if given is None or real is None:
        yield None
        return
    if not is_tiff(real):
        faults.add(given, "", "this is no GeoTIFF; an orthophoto is one")
        yield None
        return
    file = part(real)
    opened = None
    with rasterio.Env(**SEALED):
        with told(faults, given, "", "the GeoTIFF is damaged: it cannot be read"):
            try:
                opened = open_geotiff(real)
            except RasterioError:
                faults.add(given, "", "this is no GeoTIFF that can be read; an orthophoto is one")
        if opened is None:
            yield None
            return
        with opened as photo:
            found = _looked_over(photo, given, faults)
            yield (
                None
                if found is None
                else SurveyPhoto(given, photo, *found, source("orthophoto", given, [file], faults))
            )


def _looked_over(photo: Any, given: str, faults: Faults) -> tuple[CRS, tuple[int, ...]] | None:  # noqa: ANN401
    """Return the photo's CRS and its bands; None, with every fault told, where it will not do."""
    before = len(faults.found)
    if why := why_not_alone(photo, None):
        faults.add(given, "", why)
        return None
    colour = [band for band, meaning in enumerate(photo.colorinterp, start=1) if meaning != ColorInterp.alpha]
    if len(colour) not in {3, 4}:
        faults.add(
            given,
            "",
            f"it has {many(len(colour), 'band')} of colour; wanted are 3 (red, green, blue), or 4 with near infrared",
        )
    elif all(one in photo.colorinterp for one in _COLOURS):
        named = [photo.colorinterp.index(one) + 1 for one in _COLOURS]
        colour = [*named, *(band for band in colour if band not in named)]
    if why := why_no_position(photo.transform):
        faults.add(given, "", f"it has {why}")
    crs = horizontal_crs(photo.crs.to_wkt(version="WKT2_2019")) if photo.crs else None
    if crs is None:
        faults.add(given, "", "it names no CRS that ties it to the earth")
    return None if crs is None or len(faults.found) > before else (crs, tuple(colour))


def refuse_elsewhere(photo: SurveyPhoto, blocks: Sequence[Block], faults: Faults) -> None:
    """Refuse a photo of another place: one on which no block lies."""
    corners = np.array([photo.photo.transform * at for at in _corners(photo.photo.shape)])
    to_lonlat = Transformer.from_crs(photo.crs, WGS84, always_xy=True)
    seen = shapely.MultiPoint(np.column_stack(to_lonlat.transform(*corners.T))).convex_hull
    if any(block.area.intersects(seen) for block in blocks):
        return
    west, south, east, north = seen.bounds
    faults.add(
        photo.given,
        "",
        f"it shows another place: no block of the boundary lies on it (longitude {west:.4f} to {east:.4f}, latitude "
        f"{south:.4f} to {north:.4f})",
    )


def grid_of_photo(photo: SurveyPhoto, blocks: Sequence[Block]) -> WorkGrid:
    """Cells over all blocks: in the photo's CRS where its metre is one, else in UTM."""
    middle = shapely.union_all([block.area for block in blocks]).representative_point()
    crs, side = photo.crs, _CELL_M
    if crs.is_projected:
        to_crs = Transformer.from_crs(WGS84, crs, always_xy=True)
        unit = crs.axis_info[0].unit_conversion_factor
        x, y = to_crs.transform(middle.x, middle.y)
        lon, lat = to_crs.transform(x + 100.0 / unit, y, direction="INVERSE")
        side = _CELL_M / unit
    if not crs.is_projected or abs(GEOD.inv(middle.x, middle.y, lon, lat)[2] / 100.0 - 1.0) > _MOST_OFF:
        zone = int((middle.x + 180.0) // 6.0) % 60 + 1
        crs, side = CRS.from_epsg((32600 if middle.y >= 0.0 else 32700) + zone), _CELL_M
    to_crs = Transformer.from_crs(WGS84, crs, always_xy=True)

    def there(lonlat: FloatArray) -> FloatArray:
        return np.column_stack(to_crs.transform(lonlat[:, 0], lonlat[:, 1]))

    areas = [shapely.transform(block.area, there) for block in blocks]
    west, south, east, north = shapely.union_all(areas).buffer(_BEYOND_M * side / _CELL_M).bounds
    step = side * STEP * 2
    left, top = np.floor(west / step) * step, np.ceil(north / step) * step
    rows, columns = (int(np.ceil(length / step)) * STEP * 2 for length in (top - south, east - left))
    return WorkGrid(Affine(side, 0.0, left, 0.0, -side, top), crs.to_wkt(), (rows, columns), _CELL_M)


def _corners(shape: tuple[int, int]) -> list[tuple[int, int]]:
    rows, columns = shape
    return [(0, 0), (columns, 0), (columns, rows), (0, rows)]
