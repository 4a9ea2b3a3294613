"""A small good estate that each test breaks in one place."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import Transformer
from wirerun.errors import Exit, InputError
from wirerun.read.config import load_config
from wirerun.read.inputs import read_inputs
from wirerun.records import Inputs

Ring = Sequence[tuple[float, float]]

UTM = "EPSG:32629"
EAST, NORTH = 617_400.0, 4_562_000.0  # south-west corner of everything
# Nothing square and nothing in the middle: a swapped axis or a mirrored grid must show.
RING: Ring = [(20.0, 15.0), (82.0, 18.0), (77.0, 61.0), (31.0, 55.0)]
SECOND: Ring = [(20.0, 65.0), (70.0, 70.0), (66.0, 90.0), (22.0, 88.0)]
COLUMNS, ROWS = 110, 100  # cells of 1 m

_TO_LONLAT = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)


def lonlat(ring: Ring) -> list[list[float]]:
    """Close a ring of metres from the corner and return it in longitude and latitude."""
    closed = [*ring, ring[0]]
    return [list(_TO_LONLAT.transform(EAST + x, NORTH + y)) for x, y in closed]


def polygon(*rings: Ring) -> dict[str, Any]:
    """Return a GeoJSON polygon of an outer ring and holes, in metres from the corner."""
    return {"type": "Polygon", "coordinates": [lonlat(ring) for ring in rings]}


def heights() -> NDArray[np.float32]:
    """Return a tilted, folded ground."""
    row, column = np.mgrid[0:ROWS, 0:COLUMNS]
    return np.asarray(300.0 + 0.05 * column - 0.11 * row + np.sin(column / 9.0), dtype=np.float32)


class Estate:
    """A folder with a config, a boundary and a raster that are all good, until a test writes one anew."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.settings: dict[str, dict[str, Any]] = {
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif", "height_unit": "m"},
            "rows": {"bearing_deg": 62.0, "spacing_m": 2.4},
        }
        self.boundary(polygon(RING))
        self.ground()

    def boundary(self, *geometries: Any, name: str = "block.geojson", **members: Any) -> None:  # noqa: ANN401
        """Write a GeoJSON file, one feature per geometry, named n1, n2 and so on in the attribute `plot`."""
        features = [
            {"type": "Feature", "properties": {"plot": f"n{number}"}, "geometry": geometry}
            for number, geometry in enumerate(geometries, start=1)
        ]
        self.write(name, json.dumps({"type": "FeatureCollection", "features": features, **members}))

    def named(self, *names: object) -> None:
        """Write two good blocks with the given values of the attribute `plot`."""
        features = [
            {"type": "Feature", "properties": {"plot": name}, "geometry": polygon(ring)}
            for name, ring in zip(names, (RING, SECOND), strict=True)
        ]
        self.write("block.geojson", json.dumps({"type": "FeatureCollection", "features": features}))
        self.settings["block"]["id_field"] = "plot"

    def ground(
        self,
        data: NDArray[Any] | None = None,
        *,
        name: str = "ground.tif",
        unit: str | None = None,
        **profile: Any,  # noqa: ANN401
    ) -> None:
        """Write a GeoTIFF; `data` has shape (rows, columns) or (bands, rows, columns)."""
        data = heights() if data is None else data
        bands = data if data.ndim == 3 else data[None]
        whole: dict[str, Any] = {
            "driver": "GTiff",
            "dtype": data.dtype,
            "count": bands.shape[0],
            "height": bands.shape[1],
            "width": bands.shape[2],
            "crs": UTM,
            "transform": Affine(1.0, 0.0, EAST, 0.0, -1.0, NORTH + ROWS),
            **profile,
        }
        with rasterio.open(self.folder / name, "w", **whole) as raster:
            raster.write(bands)
            if unit is not None:
                raster.set_band_unit(1, unit)

    def write(self, name: str, text: str) -> None:
        """Write a text file into the folder."""
        (self.folder / name).write_text(text, encoding="utf-8")

    def config(self, text: str | None = None) -> Path:
        """Write config.toml, from the settings unless a text is given, and return its path."""
        if text is None:
            lines = ['name = "estate"']
            for table, values in self.settings.items():
                lines += [f"[{table}]", *(f"{key} = {json.dumps(value)}" for key, value in values.items())]
            text = "\n".join(lines) + "\n"
        self.write("config.toml", text)
        return self.folder / "config.toml"

    def read(self) -> Inputs:
        """Read everything."""
        return read_inputs(load_config(self.config()))

    def refusal(self, text: str | None = None) -> tuple[list[str], Exit]:
        """Return the sentences that the user sees, the folder cut off, and the exit code."""
        path = self.config(text)
        with pytest.raises(InputError) as caught:
            read_inputs(load_config(path))
        sentences = str(caught.value).replace(f"{self.folder}/", "").splitlines()
        return sentences, caught.value.exit_code


@pytest.fixture
def estate(tmp_path: Path) -> Estate:
    """Return a fresh estate."""
    return Estate(tmp_path)
