"""Pictures inside the page, and what may be said of the files they come from."""

import base64
import re
from typing import Final

import numpy as np
from rasterio.io import MemoryFile
from rasterio.transform import from_bounds

from wirerun.records import Orthophoto
from wirerun.write.html_map.columns import Packed

JPEG_QUALITY: Final = 75  # choice: half the bytes of 90, and a post is still a post
# A backslash parts folders too, unless it begins the escape that stands for a character in a finding.
_SLASH: Final = re.compile(r"/|\\(?!x[0-9a-f]{2}|u[0-9a-f]{4}|U[0-9a-f]{8}|[nrt])")
_NOTHING: Final = 243  # grey of the page's own ground, where the photo shows nothing


def file_name(path: str) -> str:
    """Last part of a path, whichever way its slashes lean."""
    return _SLASH.split(path.rstrip("/\\"))[-1]


def picture_data(kind: str, picture: bytes, edges: tuple[float, float, float, float]) -> Packed:
    """Picture as a data URI, and its corners; `edges` are south, west, north, east in degrees."""
    south, west, north, east = edges
    address = f"data:image/{kind};base64," + base64.b64encode(picture).decode("ascii")
    return {"picture": address, "edges": [[south, west], [north, east]]}


def photo_data(photo: Orthophoto | None) -> Packed | None:
    """Orthophoto as the page gets it: JPEG, and the file's name; None where there is none."""
    if photo is None:
        return None
    west, south, east, north = photo.edges
    return {**picture_data("jpeg", _jpeg(photo), (south, west, north, east)), "file": file_name(photo.file)}


def _jpeg(photo: Orthophoto) -> bytes:
    bands, rows, columns = photo.rgb.shape
    size = {"width": columns, "height": rows, "count": bands, "dtype": "uint8"}
    place = from_bounds(*photo.edges, columns, rows)
    with MemoryFile() as memory:
        with memory.open(driver="JPEG", **size, transform=place, quality=JPEG_QUALITY) as image:
            image.write(np.where(photo.covered, photo.rgb, _NOTHING).astype(np.uint8))
        return bytes(memory.read())
