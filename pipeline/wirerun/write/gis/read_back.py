"""Files of layers, read again once they are written: a full disk ends some writers without a word.

Every feature is compared, since the number of features stands at the head of a file, which is written first.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

# GeoJSON rounds degrees to nine decimals, and then mends areas; the others keep every digit of a coordinate.
_ATOL: Final = 1e-8
# How files end where a reader does not mind if they do not, by the end of the layer's name and that of the part's.
_TAILS: Final[Mapping[str, Mapping[str, bytes]]] = {
    ".geojson": {".geojson": b"}\n"},
    ".shp": {".dbf": b"\x1a"},
}


def reads_as_written(path: Path, frame: gpd.GeoDataFrame, layer: str | None = None) -> bool:
    """Return whether a layer's file holds what was meant, whatever the order of its features.

    Parameters
    ----------
    path : Path
        The file.
    frame : GeoDataFrame
        What was given to the writer.
    layer : str, optional
        The layer's name, in a file of several.
    """
    found, geometry = _parquet(path) if path.suffix == ".parquet" else _layer(path, layer)
    places = [shapely.from_wkb(geometry), frame.geometry.to_numpy()]
    return (
        all(_ends_with(path.with_suffix(end), tail) for end, tail in _TAILS.get(path.suffix, {}).items())
        and len(geometry) == len(frame)
        and _alike(*map(shapely.get_coordinates, places))
        and all(_same_column(found[name], frame[name]) for name in frame.columns if name in found)
    )


def _layer(path: Path, layer: str | None) -> tuple[dict[str, Any], Any]:
    """Return columns, and geometries as well-known binary, of a file that GDAL reads."""
    meta, _, geometry, values = pyogrio.raw.read(path, layer=layer)
    return dict(zip(meta["fields"], values, strict=True)), geometry


def _parquet(path: Path) -> tuple[dict[str, Any], Any]:
    """Return the same of a GeoParquet file."""
    from pyarrow import parquet  # noqa: PLC0415 - an extra, which only those who write GeoParquet have

    table = parquet.read_table(path)
    columns = {name: table.column(name).to_numpy() for name in table.column_names}
    return columns, columns.pop("geometry")


def _ends_with(path: Path, tail: bytes) -> bool:
    with path.open("rb") as stream:
        stream.seek(max(0, path.stat().st_size - len(tail)))
        return stream.read() == tail


def _same_column(found: Any, meant: pd.Series) -> bool:  # noqa: ANN401 - an array of any kind
    if pd.api.types.is_numeric_dtype(meant):
        # Some formats keep every number as a float, and none as not-a-number.
        return _alike(found.astype(np.float64), meant.to_numpy(dtype=np.float64, na_value=np.nan))
    if [text or "" for text in found.tolist()] == meant.fillna("").tolist():
        return True
    return sorted(_texts(found)) == sorted(_texts(meant))


def _texts(values: Any) -> list[str]:  # noqa: ANN401 - any row of texts
    """Return texts as all formats keep them: no difference between an empty one and none, and JSON in any spelling."""
    texts = np.array(values, dtype=object)
    texts[pd.isna(texts)] = ""
    return ["{}" if text.startswith(("{", "[")) else text for text in map(str, texts.tolist())]


def _alike(found: np.ndarray, meant: np.ndarray) -> bool:
    """Return whether numbers are the same in the order written, which most formats keep, or in any."""
    return _same(found, meant) or _same(*(np.sort(each, axis=0) for each in (found, meant)))


def _same(found: np.ndarray, meant: np.ndarray) -> bool:
    return found.shape == meant.shape and bool(np.allclose(found, meant, rtol=1e-12, atol=_ATOL, equal_nan=True))
