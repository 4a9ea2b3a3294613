"""Small files to read: polygons in any format, and rasters with any profile."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol

import fiona
import numpy as np
import pytest
import rasterio
from affine import Affine
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry import mapping
from wirerun.read.inputs import read_inputs
from wirerun.records import Inputs
from wirerun.settings import Config

EAST, NORTH = 617_400.0, 4_562_000.0
BLOCK = Polygon([(EAST + x, NORTH + y) for x, y in [(20.0, 15.0), (82.0, 18.0), (77.0, 61.0), (31.0, 55.0)]])
SHAPE = (100, 110)
TRANSFORM = Affine(1.0, 0.0, EAST, 0.0, -1.0, NORTH + SHAPE[0])


class VectorWriter(Protocol):
    """Writes polygons to a file and returns its path."""

    def __call__(  # noqa: D102
        self,
        name: str,
        areas: Sequence[Polygon | MultiPolygon],
        *,
        driver: str = "GPKG",
        crs: str = "EPSG:32629",
        layer: str | None = None,
        values: Sequence[Any] | None = None,
        kind: str = "str",
    ) -> Path: ...


class RasterWriter(Protocol):
    """Writes a raster whose rows run from the north; returns its path."""

    def __call__(  # noqa: D102
        self,
        data: NDArray[Any],
        name: str = "ground.tif",
        *,
        tags: dict[str, Any] | None = None,
        **profile: Any,  # noqa: ANN401
    ) -> Path: ...


class Reader(Protocol):
    """Reads the block and the raster of the test's folder."""

    def __call__(self, **sections: dict[str, Any]) -> Inputs: ...  # noqa: D102


@pytest.fixture
def write_vector(tmp_path: Path) -> VectorWriter:
    """Return the writer of vector files."""

    def write(
        name: str,
        areas: Sequence[Polygon | MultiPolygon],
        *,
        driver: str = "GPKG",
        crs: str = "EPSG:32629",
        layer: str | None = None,
        values: Sequence[Any] | None = None,
        kind: str = "str",
    ) -> Path:
        schema = {"geometry": "Unknown" if driver == "GPKG" else areas[0].geom_type, "properties": {"plot": kind}}
        with fiona.open(tmp_path / name, "w", driver=driver, crs=crs, layer=layer, schema=schema) as file:
            for number, area in enumerate(areas):
                value = values[number] if values else None
                file.write({"type": "Feature", "geometry": mapping(area), "properties": {"plot": value}})
        return tmp_path / name

    return write


@pytest.fixture
def write_raster(tmp_path: Path) -> RasterWriter:
    """Return the writer of rasters."""

    def write(
        data: NDArray[Any],
        name: str = "ground.tif",
        *,
        tags: dict[str, Any] | None = None,
        **profile: Any,  # noqa: ANN401
    ) -> Path:
        bands = data if data.ndim == 3 else data[None]
        mask = profile.pop("mask", None)
        whole: dict[str, Any] = {
            "driver": "GTiff",
            "dtype": data.dtype,
            "count": bands.shape[0],
            "height": bands.shape[1],
            "width": bands.shape[2],
            "crs": "EPSG:32629",
            "transform": TRANSFORM,
            **profile,
        }
        with rasterio.open(tmp_path / name, "w", **whole) as raster:
            raster.write(bands)
            if mask is not None:
                raster.write_mask(mask)
            for key, value in (tags or {}).items():
                if key == "AREA_OR_POINT":
                    raster.update_tags(**{key: value})
                else:
                    setattr(raster, key, value)
        return tmp_path / name

    return write


@pytest.fixture
def read(tmp_path: Path, write_vector: VectorWriter) -> Reader:
    """Return the reader; the block is written first, unless it is there."""

    def read_all(**sections: dict[str, Any]) -> Inputs:
        if not (tmp_path / "block.gpkg").exists():
            write_vector("block.gpkg", [BLOCK])
        data: dict[str, Any] = {
            "name": "test",
            "block": {"boundary": "block.gpkg"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 62.0, "spacing_m": 2.4},
        }
        for name, section in sections.items():
            data[name] = {**data.get(name, {}), **section}
        return read_inputs(Config.model_validate(data, context={"folder": str(tmp_path)}))

    return read_all


@pytest.fixture
def ground() -> NDArray[np.float32]:
    """Return a ground without any symmetry, shape (100, 110), that float32 holds exactly."""
    row, column = np.mgrid[0 : SHAPE[0], 0 : SHAPE[1]]
    return np.asarray(300.0 + 0.25 * column - 0.125 * row + (column * row % 7) / 64.0, dtype=np.float32)
