"""Three real classified clouds: the test data in the sdist of laspy 2.7.0 on PyPI, of which the package uses no code.

Trees, roofs and hillsides, from 15 to 115 points a square metre where they lie dense; two in feet. What each was taken
for, and where from, the files do not say; their classes of ground (ASPRS 2) are what a ground is judged by.
"""

import hashlib
import subprocess
import sys
import tarfile
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pyproj import CRS

FloatArray = NDArray[np.float64]
_INSIDE = "laspy-2.7.0/tests/data/"


class Cloud(NamedTuple):
    """A cloud: its file, SHA-256, unit of heights and of places [m], class that is none, box of what is judged."""

    name: str
    sha256: str
    height_unit: str
    metres: float
    dropped: int | None
    box: tuple[float, float, float, float] | None
    most_rmse_m: float


#: The last column is the goal: what dsm2dtm 0.4.0 was measured to give there when the goals were set.
CLOUDS = (
    Cloud(
        "autzen_trim.laz",
        "75867b3e75cfc3c2e96da9f753c04c9fbaa6a59468dea13e2859f3109b38bd66",
        "ft",
        0.3048,
        None,
        None,
        0.24,
    ),
    Cloud(
        "file_with_both_wkt_and_geotiff_vlrs.las",
        "58bc14d3268eecf5f286d463b2de4d99e1d045bb6e0f626827d9c2f0ee6053c8",
        "us-ft",
        1200.0 / 3937.0,
        None,
        None,
        0.62,
    ),
    # A strip of 10 by 100 m holds nine points of ten; the others are strewn over a square kilometre.
    Cloud(
        "append-bug.laz",
        "15b8493da724b03f073f7b677981fd14177a00da5ff9751c57c0285d6c0b3f16",
        "m",
        1.0,
        65,
        (698000.0, 6259900.0, 698010.0, 6260000.0),
        0.61,
    ),
)


class Points(NamedTuple):
    """Points of a cloud, in its own units, and where the classified ground is among them."""

    places: FloatArray
    ground: NDArray[np.bool_]


def fetch(folder: Path) -> str | None:
    """Put the files into a folder; return what went wrong, None if nothing did."""
    if all((folder / cloud.name).exists() for cloud in CLOUDS):
        return None
    command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--no-binary", "laspy", "laspy==2.7.0"]
    done = subprocess.run([*command, "-d", str(folder)], capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode:
        return done.stderr
    packed = next(folder.glob("laspy-*.tar.gz"))
    with tarfile.open(packed) as members:
        for cloud in CLOUDS:
            member = members.extractfile(_INSIDE + cloud.name)
            if member is None:
                return f"{cloud.name} is not in it"
            (folder / cloud.name).write_bytes(member.read())
    packed.unlink()
    return None


def without_classes(cloud: Cloud, folder: Path, to: Path) -> Points:
    """Write a cloud with all points unclassified; return them, and which are ground."""
    whole = (folder / cloud.name).read_bytes()
    if hashlib.sha256(whole).hexdigest() != cloud.sha256:
        msg = f"{cloud.name} is not the file it was"
        raise ValueError(msg)
    import laspy  # noqa: PLC0415 - an extra

    points = laspy.read(folder / cloud.name)
    points.points = points.points[np.asarray(points.classification) != (cloud.dropped or 255)]
    kind = np.asarray(points.classification) == 2
    points.classification = np.ones(len(kind), dtype=np.uint8)
    points.write(to)
    return Points(np.column_stack([points.x, points.y, points.z]), kind)


def crs_of(file: Path) -> CRS:
    """Return the horizontal CRS of a cloud."""
    import laspy  # noqa: PLC0415 - an extra

    with laspy.open(file) as cloud:
        whole = CRS.from_wkt(cloud.header.parse_crs().to_wkt())
    return whole.sub_crs_list[0] if whole.is_compound else whole
