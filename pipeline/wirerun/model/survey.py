"""What a survey found: ground, rows, and how far to trust both."""

import math
from dataclasses import dataclass

import geopandas as gpd
from affine import Affine

from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Finding
from wirerun.records import Source
from wirerun.settings import Config
from wirerun.surface.accuracy import Accuracy
from wirerun.surface.preview import Preview
from wirerun.surface.row_lines import FoundRow
from wirerun.surface.row_waves import RowWave


@dataclass(frozen=True, slots=True)
class BlockRows:
    """What was found in one block: the wave of its rows (None where there is none) and the bearing [deg].

    `lift` is how many times its low plants were lifted to be traced; `seen_in` is surface or orthophoto, the one that
    shows the rows better; `other_m` is the trusted length in the other, where there are both [m]; `span_m` the usual
    distance of its posts, NaN where none were found; `in_photo` the share of the block that is on the orthophoto, 1
    without one.
    """

    block_id: str
    wave: RowWave | None
    bearing_deg: float
    rows: tuple[FoundRow, ...]
    lift: float = 1.0
    seen_in: str = "surface"
    other_m: float = math.nan
    span_m: float = math.nan
    in_photo: float = 1.0


@dataclass(frozen=True, slots=True)
class PhotoPicture:
    """A small picture of an orthophoto: its bands, [band, row, column], and where they are known, on a grid."""

    bands: FloatArray
    known: BoolArray
    transform: Affine
    index_name: str


@dataclass(frozen=True, slots=True)
class Survey:
    """What a survey found.

    `counts` are cells in the blocks: seen, filled and void. `rows` has one line a feature in the survey's CRS,
    `posts` one point a feature there; `check` one point a feature in WGS 84, with `off_m`, the ground less the point,
    and whether it was `used`. A survey without heights has no accuracy and no preview of them; one without an
    orthophoto no photo. `asks_for_ground` is whether its plan.toml names no ground yet.
    """

    config: Config
    crs_wkt: str
    cell_m: float
    noise_m: float
    counts: dict[str, int]
    accuracy: Accuracy | None
    blocks: tuple[BlockRows, ...]
    areas: gpd.GeoDataFrame
    rows: gpd.GeoDataFrame
    posts: gpd.GeoDataFrame
    check: gpd.GeoDataFrame
    preview: Preview | None
    photo: PhotoPicture | None
    findings: tuple[Finding, ...]
    sources: tuple[Source, ...]
    asks_for_ground: bool = False
