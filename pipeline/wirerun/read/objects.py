"""Objects that a program plans from: laid down as files in a private folder, and read as any other input is.

So they pass the same checks, in the same sentences, and the record has a hash of them.
"""

import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import geopandas as gpd
import numpy as np
import rasterio
from affine import Affine
from numpy.typing import ArrayLike
from pyproj import CRS
from pyproj.exceptions import CRSError
from rasterio.shutil import copy as copy_raster
from shapely import MultiPolygon, Polygon

from wirerun.errors import Faults, InputError
from wirerun.findings import Finding
from wirerun.missing import MissingBlock
from wirerun.read.block_settings import with_attributes
from wirerun.read.config import BLOCKS, HEIGHTS
from wirerun.read.inputs import read_inputs
from wirerun.records import Inputs
from wirerun.settings import Config

if TYPE_CHECKING:
    from rasterio.io import DatasetReader
    from xarray import DataArray

#: Blocks as a program has them: polygons with their CRS.
Blocks: TypeAlias = "gpd.GeoDataFrame | tuple[Polygon | MultiPolygon, object]"
#: Heights as a program has them: a dataset, an array with coordinates, or an array with its transform and CRS.
Heights: TypeAlias = "DatasetReader | DataArray | tuple[ArrayLike, Affine, object]"

_DIMENSIONS: Final = 2
_NODATA: Final = -9999.0


def inputs_of(blocks: Blocks, heights: Heights, config: Config) -> tuple[Inputs, Config]:
    """What a plan needs, from objects, and the config with what the blocks say; the rest is read from its files.

    Parameters
    ----------
    blocks : GeoDataFrame, or (Polygon or MultiPolygon, CRS)
        One polygon a block.
    heights : rasterio dataset, xarray.DataArray, or (array, Affine, CRS)
        Bare-earth heights. A dataset that is a file is read where it lies.
    config : Config
        `block.boundary` and `elevation.raster` are passed over.

    Raises
    ------
    InputError
        With every fault; blocks and heights are named as such.
    """
    with tempfile.TemporaryDirectory(prefix="wirerun-") as folder:
        faults = Faults()
        boundary = _lay_down_blocks(blocks, Path(folder) / "blocks.gpkg", faults)
        raster = _lay_down_heights(heights, Path(folder) / "heights.tif", faults)
        faults.stop_if_any()
        laid = config.model_copy(
            update={
                "block": config.block.model_copy(update={"boundary": str(boundary)}),
                "elevation": config.elevation.model_copy(update={"raster": str(raster)}),
            }
        )
        names = {str(boundary): BLOCKS, str(raster): HEIGHTS}
        try:
            own = with_attributes(laid, faults)
            faults.stop_if_any()
            return _named(read_inputs(own), names), config.model_copy(update={"blocks": own.blocks})
        except InputError as error:
            told = (replace(f, file=_said(f.file, names), message=_said(f.message, names)) for f in error.faults)
            raise InputError(tuple(told)) from error


def _lay_down_blocks(blocks: Blocks, path: Path, faults: Faults) -> Path:
    """Write the blocks to a file."""
    if not isinstance(blocks, gpd.GeoDataFrame):
        area, crs = blocks
        try:
            blocks = gpd.GeoDataFrame(geometry=[area], crs=CRS.from_user_input(crs))
        except (CRSError, TypeError):
            faults.add(BLOCKS, "", f"{crs!r} is no CRS")
            return path
    if blocks.crs is None:
        faults.add(BLOCKS, "", "they have no CRS; set one with set_crs")
    elif not len(blocks):
        faults.add(BLOCKS, "", "there is none")
    else:
        plain = blocks.drop(
            columns=[name for name in blocks.columns if name != blocks.geometry.name and _odd(blocks[name])]
        )
        plain.to_file(path, driver="GPKG", engine="pyogrio")
    return path


def _odd(values: Any) -> bool:  # noqa: ANN401 - a column of any kind
    """Whether a column holds what no file can: lists, tables, second geometries."""
    return (
        values.dtype == object and not values.map(lambda one: one is None or isinstance(one, str | int | float)).all()
    )


def _lay_down_heights(heights: Heights, path: Path, faults: Faults) -> Path:
    """Write the heights to a GeoTIFF, unless they are one."""
    if isinstance(heights, rasterio.io.DatasetReader):
        there = Path(heights.name)
        if heights.driver == "GTiff" and there.is_file():
            return there.absolute()
        copy_raster(heights, path, driver="GTiff")
        return path
    values, transform, crs, nodata, unit = _array(heights) if not isinstance(heights, tuple) else (*heights, None, "")
    array = np.asarray(values)
    if array.ndim != _DIMENSIONS or array.dtype.kind not in "iuf":
        faults.add(HEIGHTS, "", f"an array of two dimensions of numbers is wanted, not {array.ndim} of {array.dtype}")
        return path
    try:
        wkt = CRS.from_user_input(crs).to_wkt()
    except (CRSError, TypeError):
        faults.add(HEIGHTS, "", f"{crs!r} is no CRS")
        return path
    if array.dtype.kind == "f":
        array = np.where(np.isfinite(array), array, _NODATA).astype(array.dtype if array.dtype.itemsize > 2 else "f4")
        nodata = _NODATA if nodata is None or not np.isfinite(nodata) else nodata
    rows, columns = array.shape
    profile = {"driver": "GTiff", "height": rows, "width": columns, "count": 1, "dtype": array.dtype, "tiled": True}
    with rasterio.open(path, "w", **profile, crs=wkt, transform=transform, nodata=nodata) as out:
        out.write(array, 1)
        out.units = [unit]
    return path


def _array(heights: "DataArray") -> tuple[ArrayLike, Affine, object, float | None, str]:
    """Values, transform, CRS, no-data number and unit of an array laid out as rioxarray does (CF conventions)."""
    array = heights.squeeze(drop=True) if heights.ndim > _DIMENSIONS else heights
    rows, columns = array.dims[-2:]
    about = array.coords["spatial_ref"].attrs if "spatial_ref" in array.coords else {}
    x, y = (np.asarray(array.coords[name], dtype=np.float64) for name in (columns, rows))
    step_x, step_y = (float(np.diff(along).mean()) if len(along) > 1 else np.nan for along in (x, y))
    transform = Affine(step_x, 0.0, x[0] - step_x / 2.0, 0.0, step_y, y[0] - step_y / 2.0)
    if "GeoTransform" in about:
        transform = Affine.from_gdal(*(float(number) for number in str(about["GeoTransform"]).split()))
    nodata = array.attrs.get("_FillValue", array.encoding.get("_FillValue"))
    return array.values, transform, about.get("crs_wkt"), nodata, str(array.attrs.get("units", ""))


def _named(inputs: Inputs, names: dict[str, str]) -> Inputs:
    """The same with blocks and heights called so, wherever a file's name would stand."""
    return replace(
        inputs,
        grids=tuple(replace(grid, file=_said(grid.file, names)) for grid in inputs.grids),
        sources=tuple(replace(source, path=_said(source.path, names)) for source in inputs.sources),
        findings=tuple(Finding(f.code, _said(f.place, names), _said(f.message, names)) for f in inputs.findings),
        missing=tuple(_missing(block, names) for block in inputs.missing),
    )


def _missing(block: MissingBlock, names: dict[str, str]) -> MissingBlock:
    told = (replace(f, file=_said(f.file, names), message=_said(f.message, names)) for f in block.faults)
    return replace(block, faults=tuple(told))


def _said(text: str, names: dict[str, str]) -> str:
    for path, name in names.items():
        text = text.replace(path, name)
    return text
