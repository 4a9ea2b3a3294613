"""The user's own photo of the ground, warped for the map and made as small as the config asks."""

from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
import shapely
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from rasterio.enums import ColorInterp, Resampling
from rasterio.errors import RasterioError
from rasterio.vrt import WarpedVRT
from rasterio.warp import reproject
from rasterio.windows import Window
from shapely import MultiPolygon, Polygon

from wirerun.errors import Faults
from wirerun.read.crs import WGS84, horizontal_crs
from wirerun.read.geotiff import (
    SEALED,
    holds_nothing,
    mask_beside,
    name_beside,
    open_geotiff,
    why_no_position,
    why_not_alone,
)
from wirerun.read.library_errors import told
from wirerun.read.plain_file import Part, part, plain_file, source
from wirerun.records import Block, Orthophoto, Source
from wirerun.settings import MapSettings

# A browser stretches a picture evenly in this projection.
_MERCATOR: Final = CRS.from_epsg(3857)
_MARGIN: Final = 0.04  # of the blocks' width and height, shown on each side (choice)
_EMPTY: Final = "it is empty where the blocks lie"
_MOST_MASK_PX: Final = 8000  # on a side (choice): no map is finer


@dataclass(frozen=True, slots=True)
class _Photo:
    """An open photo that passed the look-over; `mask` is open where a file beside it has one."""

    source: Any
    mask: Any
    crs: CRS

    def warped(self, **options: Any) -> Any:  # noqa: ANN401 - rasterio has no types
        """Open the photo in web Mercator."""
        return WarpedVRT(self.source, src_crs=self.crs.to_wkt(), crs=_MERCATOR.to_wkt(), **options)

    def unmasked(self, transform: Affine, shape: tuple[int, int]) -> NDArray[np.bool_]:
        """Return where the mask beside the photo shows it, in cells of web Mercator; everywhere without one."""
        shown = np.ones(shape, dtype=np.uint8)
        if self.mask is not None:
            small = tuple(min(side, _MOST_MASK_PX) for side in self.mask.shape)
            steps = [whole / side for whole, side in zip(self.mask.shape, small, strict=True)]
            reproject(
                (self.mask.read(1, out_shape=small) != 0).astype(np.uint8),
                shown,
                src_transform=self.source.transform * Affine.scale(steps[1], steps[0]),
                src_crs=self.crs.to_wkt(),
                dst_transform=transform,
                dst_crs=_MERCATOR.to_wkt(),
                init_dest_nodata=True,
            )
        return shown > 0


def read_orthophoto(
    settings: MapSettings, folder: Path, blocks: Sequence[Block], faults: Faults
) -> tuple[Orthophoto | None, tuple[Source, ...]]:
    """Photo over all blocks and the fingerprint of its file; None and nothing where there is none or it will not do.

    Parameters
    ----------
    settings : MapSettings
        Which file, and how many pixels.
    folder : Path
        Where relative paths start.
    blocks : sequence of Block
        What the photo is to show.
    faults : Faults
        Gets the faults.
    """
    given = settings.orthophoto
    real = plain_file(folder / given, given, faults) if given is not None else None
    if given is None or real is None:
        return None, ()
    with told(faults, given, "", "the GeoTIFF is damaged: it cannot be read"), rasterio.Env(**SEALED):
        parts = [part(real)]
        masked = mask_beside(real)
        with ExitStack() as files:
            photo = _open(real, masked, given, files, faults)
            warped = _warped(photo, settings.orthophoto_px, blocks, faults, given) if photo and blocks else None
        if warped is not None:
            found = [source("orthophoto", given, parts, faults)]
            if masked is not None:
                found.append(source("orthophoto-sidecar", name_beside(given, masked), [masked], faults))
            return warped, tuple(found)
    return None, ()


def _open(real: Path, masked: Part | None, given: str, files: ExitStack, faults: Faults) -> _Photo | None:
    """Return the open photo; None, with every fault told, where it will not do."""
    try:
        photo = files.enter_context(open_geotiff(real))
    except RasterioError:
        faults.add(given, "", "this is no GeoTIFF that can be read; an orthophoto is one")
        return None
    before = len(faults.found)
    mask = files.enter_context(open_geotiff(masked.path)) if masked else None
    why = why_not_alone(photo, mask)
    if why:
        faults.add(given, "", why)
        return None
    if photo.count not in {3, 4}:
        bands = "band" if photo.count == 1 else "bands"
        faults.add(given, "", f"it has {photo.count} {bands}; an orthophoto has 3 (red, green, blue), or 4 with a mask")
    other = next((kind for kind in photo.dtypes if kind != "uint8"), None)
    if other is not None:
        faults.add(given, "", f"its values are of type {other}; an orthophoto has 8 bits a band (uint8)")
    why = why_no_position(photo.transform)
    if why:
        faults.add(given, "", f"it has {why}")
    crs = horizontal_crs(photo.crs.to_wkt(version="WKT2_2019")) if photo.crs else None
    if crs is None:
        faults.add(given, "", "it names no CRS that ties it to the earth")
    return None if crs is None or len(faults.found) > before else _Photo(photo, mask, crs)


def _warped(photo: _Photo, most_px: int, blocks: Sequence[Block], faults: Faults, given: str) -> Orthophoto | None:
    """Return the photo over all blocks, at most so many pixels on the longer side."""
    if holds_nothing(photo.source, Window(0, 0, photo.source.width, photo.source.height)):
        faults.add(given, "", _EMPTY)
        return None
    there = Transformer.from_crs(WGS84, _MERCATOR, always_xy=True)
    areas = [shapely.transform(block.area, lambda at: np.column_stack(there.transform(*at.T))) for block in blocks]
    west, south, east, north = _frame(areas)
    with photo.warped() as whole:
        finest = abs(float(whole.transform.a))
        corners = whole.bounds
    if not any(area.intersects(shapely.box(*corners)) for area in areas):
        faults.add(given, "", "it shows another place: no block of the boundary lies on it")
        return None
    pixel = max(finest, max(east - west, north - south) / most_px)
    shape = (max(1, round((north - south) / pixel)), max(1, round((east - west) / pixel)))
    transform = Affine((east - west) / shape[1], 0.0, west, 0.0, -(north - south) / shape[0], north)
    place = {"transform": transform, "height": shape[0], "width": shape[1]}
    resampling = Resampling.average if pixel > 1.5 * finest else Resampling.bilinear
    add_alpha = ColorInterp.alpha not in photo.source.colorinterp
    try:
        with photo.warped(resampling=resampling, add_alpha=add_alpha, **place) as frame:
            rgb: NDArray[np.uint8] = frame.read([1, 2, 3])
            covered = (frame.dataset_mask() > 0) & photo.unmasked(transform, shape)
    except RasterioError:
        faults.add(given, "", "the GeoTIFF is damaged where the blocks lie: it cannot be read")
        return None
    if not covered.any():
        faults.add(given, "", _EMPTY)
        return None
    edges = there.transform([west, east], [south, north], direction="INVERSE")
    (left, right), (bottom, top) = edges
    return Orthophoto(rgb, covered, (float(left), float(bottom), float(right), float(top)), given)


def _frame(areas: Sequence[Polygon | MultiPolygon]) -> tuple[float, float, float, float]:
    """Return west, south, east and north of what the photo is to show, in its projection."""
    west, south, east, north = shapely.union_all(areas).buffer(0.0).bounds
    aside, up = _MARGIN * (east - west), _MARGIN * (north - south)
    return west - aside, south - up, east + aside, north + up
