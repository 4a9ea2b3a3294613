"""A place on the plane and a place on the globe: two types, so that one cannot be taken for the other."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.errors import ModelError


def _same_shape(first: FloatArray, second: FloatArray, owner: str) -> None:
    if first.shape != second.shape:
        msg = f"{owner} has {first.shape} of one and {second.shape} of the other"
        raise ModelError(msg)


#: What LonLat is in, as CRS names are written.
WGS84: Final = "EPSG:4326"


@dataclass(frozen=True, slots=True, eq=False)
class PlaneXY:
    """Places in a block's frame: east and north of its origin, alike in shape [m]."""

    x_m: FloatArray
    y_m: FloatArray

    def __post_init__(self) -> None:
        _same_shape(self.x_m, self.y_m, "PlaneXY")

    @classmethod
    def of(cls, xy: FloatArray) -> "PlaneXY":
        """Places from an array whose last axis is (east, north)."""
        return cls(xy[..., 0], xy[..., 1])

    def stacked(self) -> FloatArray:
        """Array whose last axis is (east, north)."""
        return np.stack([self.x_m, self.y_m], axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class LonLat:
    """Places in WGS 84: longitude and latitude, alike in shape [deg]."""

    lon: FloatArray
    lat: FloatArray

    def __post_init__(self) -> None:
        _same_shape(self.lon, self.lat, "LonLat")

    @classmethod
    def of(cls, lonlat: FloatArray) -> "LonLat":
        """Places from an array whose last axis is (longitude, latitude)."""
        return cls(lonlat[..., 0], lonlat[..., 1])

    def stacked(self) -> FloatArray:
        """Array whose last axis is (longitude, latitude)."""
        return np.stack([self.lon, self.lat], axis=-1)
