"""The user's own photo of the ground, warped for the map and made as small as the config asks."""

import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
import shapely
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from rasterio.enums import ColorInterp, Resampling
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.vrt import WarpedVRT

from wirerun.errors import Faults
from wirerun.read.crs import WGS84, horizontal_crs
from wirerun.read.plain_file import plain_file, source
from wirerun.records import Block, Orthophoto, Source
from wirerun.settings import MapSettings

# A browser stretches a picture evenly in this projection.
_MERCATOR: Final = CRS.from_epsg(3857)
_MARGIN: Final = 0.04  # of the blocks' width and height, shown on each side (choice)


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
    with warnings.catch_warnings():
        # A photo without a position is a fault, told below.
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            photo = rasterio.open(real, driver="GTiff")
        except RasterioError:
            faults.add(given, "", "this is no GeoTIFF that can be read; an orthophoto is one")
            return None, ()
    with photo:
        crs = _looked_over(photo, given, faults)
        if crs is None or not blocks:
            return None, ()
        warped = _warped(photo, crs, settings.orthophoto_px, blocks, faults, given)
    return (None, ()) if warped is None else (warped, (source("orthophoto", given, [real]),))


def _looked_over(photo: Any, given: str, faults: Faults) -> CRS | None:  # noqa: ANN401 - rasterio has no types
    """Return the photo's CRS; None, with every fault told, where it will not do."""
    before = len(faults.found)
    if photo.count not in {3, 4}:
        bands = "band" if photo.count == 1 else "bands"
        faults.add(given, "", f"it has {photo.count} {bands}; an orthophoto has 3 (red, green, blue), or 4 with a mask")
    other = next((kind for kind in photo.dtypes if kind != "uint8"), None)
    if other is not None:
        faults.add(given, "", f"its values are of type {other}; an orthophoto has 8 bits a band (uint8)")
    if photo.transform == Affine.identity() or not photo.transform.determinant:
        faults.add(given, "", "it has no position: no corner and cell size (geotransform) that can be used")
    crs = horizontal_crs(photo.crs.to_wkt(version="WKT2_2019")) if photo.crs else None
    if crs is None:
        faults.add(given, "", "it names no CRS that ties it to the earth")
    return crs if len(faults.found) == before else None


def _warped(
    photo: Any,  # noqa: ANN401 - rasterio has no types
    crs: CRS,
    most_px: int,
    blocks: Sequence[Block],
    faults: Faults,
    given: str,
) -> Orthophoto | None:
    """Return the photo over all blocks, at most so many pixels on the longer side."""
    there = Transformer.from_crs(WGS84, _MERCATOR, always_xy=True)
    areas = [shapely.transform(block.area, lambda at: np.column_stack(there.transform(*at.T))) for block in blocks]
    west, south, east, north = shapely.union_all(areas).buffer(0.0).bounds
    aside, up = _MARGIN * (east - west), _MARGIN * (north - south)
    west, south, east, north = west - aside, south - up, east + aside, north + up
    with WarpedVRT(photo, src_crs=crs.to_wkt(), crs=_MERCATOR.to_wkt()) as whole:
        finest = abs(float(whole.transform.a))
        corners = whole.bounds
    if not any(area.intersects(shapely.box(*corners)) for area in areas):
        faults.add(given, "", "it shows another place: no block of the boundary lies on it")
        return None
    pixel = max(finest, max(east - west, north - south) / most_px)
    shape = (max(1, round((north - south) / pixel)), max(1, round((east - west) / pixel)))
    transform = Affine((east - west) / shape[1], 0.0, west, 0.0, -(north - south) / shape[0], north)
    options = {
        "transform": transform,
        "height": shape[0],
        "width": shape[1],
        "resampling": Resampling.average if pixel > 1.5 * finest else Resampling.bilinear,
        "add_alpha": ColorInterp.alpha not in photo.colorinterp,
    }
    try:
        with WarpedVRT(photo, src_crs=crs.to_wkt(), crs=_MERCATOR.to_wkt(), **options) as frame:
            rgb: NDArray[np.uint8] = frame.read([1, 2, 3])
            covered = frame.dataset_mask() > 0
    except RasterioError:
        faults.add(given, "", "the GeoTIFF is damaged where the blocks lie: it cannot be read")
        return None
    if not covered.any():
        faults.add(given, "", "it is empty where the blocks lie")
        return None
    edges = there.transform([west, east], [south, north], direction="INVERSE")
    (left, right), (bottom, top) = edges
    return Orthophoto(rgb, covered, (float(left), float(bottom), float(right), float(top)), given)
