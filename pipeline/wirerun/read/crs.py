"""Coordinate reference systems as files name them, and how well the step between two is known.

All coordinates have the order easting, northing or longitude, latitude.
"""

from dataclasses import dataclass
from typing import Final

from pyproj import CRS, Proj, Transformer
from pyproj.exceptions import ProjError

WGS84: Final = CRS.from_epsg(4326)
_WORST_ACCURACY_M: Final = 0.5  # choice: half a cell of a coarse drone raster, well below a row's spacing
# Every ellipsoid and sphere that was ever fitted to the earth, and no other body (semi-major axis; choice).
_LEAST_AXIS_M, _MOST_AXIS_M = 6.34e6, 6.40e6


def horizontal_crs(wkt: str) -> CRS | None:
    """Horizontal CRS of a file's WKT, or None where it does not tie the file to the earth.

    A vertical part is dropped: heights are used as differences and never moved between datums.
    """
    try:
        crs = CRS.from_wkt(wkt)
        if crs.is_compound:
            crs = crs.sub_crs_list[0]
        if crs.is_geographic and len(crs.axis_info) > 2:
            crs = crs.to_2d()
        known = crs.to_json_dict().get("id")
        if known:
            # The libraries that read the file carry registries of other years: go by the code, not by their wording.
            crs = CRS.from_authority(known["authority"], known["code"])
    except ProjError:
        return None
    tied = (crs.is_geographic or crs.is_projected) and not crs.name.lower().startswith("undefined")
    return crs if tied and _of_the_earth(crs) else None


def projected_crs(text: str) -> CRS | str:
    """Projected CRS that a text names, or the sentence that says why it will not do."""
    try:
        crs = CRS.from_user_input(text)
    except ProjError:
        return f'"{text}" names no known CRS; wanted is a projected one such as EPSG:32629'
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    if not crs.is_projected:
        return f'"{text}" ({crs.name}) is no projected CRS; wanted is one such as EPSG:32629'
    if not _of_the_earth(crs):
        return f'"{text}" ({crs.name}) is no CRS of the earth; wanted is one such as EPSG:32629'
    return crs


def _of_the_earth(crs: CRS) -> bool:
    return crs.ellipsoid is not None and _LEAST_AXIS_M < crs.ellipsoid.semi_major_metre < _MOST_AXIS_M


def distortion(crs: CRS, lon: float, lat: float) -> float:
    """By how much lengths measured in a projected CRS are off at a place, the worst direction: 0.33 is 33 % too long.

    Parameters
    ----------
    crs : CRS
        A projected one.
    lon, lat : float
        The place. [deg]
    """
    factors = Proj(crs).get_factors(lon, lat)
    scales = (factors.tissot_semimajor, factors.tissot_semiminor)
    return float(max(scales, key=lambda scale: abs(scale - 1.0)) - 1.0)


def crs_name(crs: CRS) -> str:
    """Return an authority string such as EPSG:25829 where it means exactly this CRS, else the WKT."""
    authority = crs.to_authority()
    if authority and CRS.from_authority(*authority).equals(crs, ignore_axis_order=True):
        return ":".join(authority)
    return str(crs.to_wkt())


def utm_crs(lon: float, lat: float) -> CRS:
    """UTM zone of a place on WGS 84 [deg]."""
    zone = min(int((lon + 180.0) // 6.0) + 1, 60)
    return CRS.from_epsg((32600 if lat >= 0.0 else 32700) + zone)


def to_lonlat(crs: CRS) -> Transformer | None:
    """Return the way from a CRS to WGS 84 longitude and latitude [deg]; None where they are the same."""
    if crs.equals(WGS84, ignore_axis_order=True):
        return None  # a trip through radians would cost the last digit
    return Transformer.from_crs(crs, WGS84, always_xy=True)


@dataclass(frozen=True, slots=True)
class DatumStep:
    """One step between two datums: their names, and its accuracy [m], None where nobody states one.

    `carried_over`: no transformation is at hand, the coordinates are used as they are.
    """

    start: str
    end: str
    accuracy_m: float | None
    carried_over: bool


def loose_steps(start: CRS, end: CRS, lon: float, lat: float) -> list[DatumStep]:
    """Return the steps from one CRS by way of WGS 84 to another that are known worse than 0.5 m.

    Empty where both have the same datum: what the way out shifts, the way back shifts back.

    Parameters
    ----------
    start, end : CRS
        Of the boundary and of the raster.
    lon, lat : float
        A place in the block: the best transformation depends on it. [deg]
    """
    if _datum(start) == _datum(end):
        return []
    steps = []
    for one, other in ((start, WGS84), (WGS84, end)):
        if _datum(one) == _datum(other):
            continue
        far = other if one is WGS84 else one
        step = _used_step(far, lon, lat, (_datum(one), _datum(other)))
        if step.accuracy_m is None or step.accuracy_m > _WORST_ACCURACY_M:
            steps.append(step)
    return steps


def _used_step(far: CRS, lon: float, lat: float, names: tuple[str, str]) -> DatumStep:
    """Return what the transformation between WGS 84 and a CRS says of itself, once used at the place."""
    transformer = Transformer.from_crs(WGS84, far, always_xy=True)
    transformer.transform(lon, lat)
    try:
        used = transformer.get_last_used_operation()
    except ProjError:
        return DatumStep(*names, None, carried_over=False)
    accuracy = float(used.accuracy) if used.accuracy >= 0.0 else None
    return DatumStep(*names, accuracy, carried_over="ballpark" in used.description.lower())


def _datum(crs: CRS) -> str:
    """Name of the datum, the same for an ensemble and for the plain name that older files use."""
    geodetic = crs.geodetic_crs
    datum = geodetic.datum if geodetic is not None else None
    return datum.name.removesuffix(" ensemble") if datum is not None else crs.name
