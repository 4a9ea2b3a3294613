"""A local frame in which plane distances are ground distances.

A UTM metre is not a ground metre: the grid's scale is off by up to 40 cm in a kilometre, height adds 16 cm per
kilometre for each 1000 m. Wire is bought in ground metres, so each block gets a transverse Mercator projection of its
own, centred on it and scaled to its mean height.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from pyproj import CRS, Geod, Transformer
from shapely.geometry.base import BaseGeometry

from wirerun.geometry.places import LonLat, PlaneXY
from wirerun.geometry.shapes import Shape

_ELLIPSOID: Final = Geod(ellps="WGS84")

# The centre is rounded, so that a small edit of the boundary moves neither the frame nor the rows that hang on it.
_CENTRE_DECIMALS: Final = 3


def mean_radius(lat_deg: float) -> float:
    """Mean radius of curvature of the WGS 84 ellipsoid at a latitude [m].

    The geometric mean of the meridian's and the prime vertical's radius, a (1 - e2)^(1/2) / (1 - e2 sin2 lat): it is
    within 0.35 % of the radius in any direction, 0.2 mm in 100 m at 3000 m of height.

    Parameters
    ----------
    lat_deg : float
        Geodetic latitude. [deg]

    References
    ----------
    The Gaussian radius of curvature, sqrt(M N), as the library geodesy has it (its operator `curvature`).
    """
    squared = _ELLIPSOID.es
    return float(_ELLIPSOID.a * np.sqrt(1.0 - squared) / (1.0 - squared * np.sin(np.radians(lat_deg)) ** 2))


def direction(bearing_deg: float) -> tuple[float, float]:
    """Unit vector (east, north) of a bearing clockwise from north: 0 -> (0, 1), 90 -> (1, 0)."""
    angle = np.radians(bearing_deg)
    return float(np.sin(angle)), float(np.cos(angle))


@dataclass(frozen=True)
class Frame:
    """Transverse Mercator at (lon, lat), scaled so that its metres are ground metres at `height_m`.

    x points east, y north at the centre. Away from it, by the projection's own terms: 1 km off, lengths are true to
    1.3e-8 and bearings to 0.009 deg per unit of tan(latitude). Height above or below `height_m` changes lengths by
    1 mm in 100 m for each 64 m.
    """

    lon: float
    lat: float
    height_m: float

    @classmethod
    def over(cls, area: BaseGeometry, height_m: float) -> "Frame":
        """Frame over the middle of an area given in longitude and latitude, rounded to 0.001 deg."""
        west, south, east, north = area.bounds
        return cls(
            round((west + east) / 2.0, _CENTRE_DECIMALS), round((south + north) / 2.0, _CENTRE_DECIMALS), height_m
        )

    @property
    def scale(self) -> float:
        """Scale at the centre: 1 + h/R."""
        return 1.0 + self.height_m / mean_radius(self.lat)

    @property
    def proj(self) -> str:
        """PROJ string of the frame."""
        return (
            f"+proj=tmerc +lat_0={self.lat!r} +lon_0={self.lon!r} +k_0={self.scale:.12f} "
            "+x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"
        )

    @cached_property
    def crs(self) -> CRS:
        """The frame as a CRS."""
        return CRS.from_proj4(self.proj)

    @cached_property
    def _from_lonlat(self) -> Transformer:
        return Transformer.from_crs("OGC:CRS84", self.crs, always_xy=True)

    def to_plane(self, places: LonLat) -> PlaneXY:
        """Places of the globe in the frame, any shape."""
        x_m, y_m = self._from_lonlat.transform(places.lon, places.lat)
        return PlaneXY(np.asarray(x_m), np.asarray(y_m))

    def to_lonlat(self, places: PlaneXY) -> LonLat:
        """Places of the frame on the globe, any shape."""
        lon, lat = self._from_lonlat.transform(places.x_m, places.y_m, direction="INVERSE")
        return LonLat(np.asarray(lon), np.asarray(lat))

    def flatten(self, shape: Shape) -> Shape:
        """Shape in plane metres, from one in longitude and latitude."""
        return shapely.transform(shape, lambda lonlat: self.to_plane(LonLat.of(lonlat)).stacked())

    def unflatten(self, shapes: NDArray[np.object_]) -> NDArray[np.object_]:
        """Shapes in longitude and latitude, from plane ones."""
        return np.asarray(shapely.transform(shapes, lambda xy: self.to_lonlat(PlaneXY.of(xy)).stacked()), dtype=object)
