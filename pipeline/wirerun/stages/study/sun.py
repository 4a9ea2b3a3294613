"""Sun on the rows: how long it reaches the alley's floor and the sides of the canopy.

The positions of the sun are pvlib's (Reda and Andreas, Solar position algorithm for solar radiation applications, Solar
Energy 76 (2004) 577-589, as pvlib cites it). Rows are walls of one height and width on flat ground, long enough that
their ends do not count; the horizon is open and there is no cloud.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from wirerun.arrays import FloatArray
from wirerun.errors import SettingError

_MINUTES: Final = 5
_DAY_H: Final = 24.0


class Sky(NamedTuple):
    """Where the sun stands through some days, and how much of a day each place counts for.

    Attributes
    ----------
    azimuth_deg, height_deg : [time]
        From north by east, and above the horizon; only times with the sun above it. [deg]
    hours : float
        Of one day that each time stands for, all days together. [h]
    """

    azimuth_deg: FloatArray
    height_deg: FloatArray
    hours: float


def sky_over(lon_deg: float, lat_deg: float, dates: Sequence[str]) -> Sky:
    """The sun over a place on some days, every five minutes.

    Parameters
    ----------
    lon_deg, lat_deg : float
        The place. [deg]
    dates : sequence of str
        Days, YYYY-MM-DD.

    Raises
    ------
    SettingError
        If a date is none, or pvlib is not installed.
    """
    try:
        from pvlib.solarposition import get_solarposition  # noqa: PLC0415 - an extra, and slow to import
    except ImportError as error:
        place = "study.sun_dates"
        raise SettingError(place, "the sun wants a library that is not here: pip install 'wirerun[sun]'") from error
    try:
        # A day by the sun, not by the clock: it may begin on the day before.
        starts = [pd.Timestamp(date) - pd.Timedelta(hours=lon_deg / 15.0) for date in dates]
    except ValueError as error:
        place = "study.sun_dates"
        raise SettingError(place, f"there is no such day: {error}") from error
    steps = pd.to_timedelta(np.arange(0, round(_DAY_H * 60), _MINUTES) + _MINUTES / 2.0, unit="min")
    times = pd.DatetimeIndex([time for start in starts for time in start + steps])
    seen = get_solarposition(times.tz_localize("UTC"), lat_deg, lon_deg)
    height, azimuth = (seen[name].to_numpy(dtype=np.float64) for name in ("apparent_elevation", "azimuth"))
    up = height > 0.0
    return Sky(azimuth[up], height[up], _MINUTES / 60.0 / len(dates))


def sun_hours(sky: Sky, bearing_deg: float, spacing_m: float, canopy_m: float, width_m: float) -> tuple[float, float]:
    """Hours a day in which the sun reaches the alley's middle, and those on the canopy's side that has less of it.

    Square to the rows the sun stands at the angle p with tan p = tan(height) / |sin(azimuth - bearing)|. The shadow of
    a canopy of height h reaches h / tan p across: the middle of the alley is lit where that is less than half the free
    width. Of a side, the neighbour leaves the upper min(1, free width tan p / h) lit.

    Parameters
    ----------
    sky : Sky
        Where the sun stands.
    bearing_deg : float
        Of the rows. [deg]
    spacing_m, canopy_m, width_m : float
        Between rows, height and width of the canopy. [m]
    """
    across = np.sin(np.radians(sky.azimuth_deg - bearing_deg))
    tangent = np.tan(np.radians(sky.height_deg)) / np.maximum(np.abs(across), 1e-12)
    free = max(spacing_m - width_m, 0.0)
    floor = canopy_m / tangent < free / 2.0
    lit = np.minimum(1.0, free * tangent / canopy_m)
    right, left = (float((lit * side).sum()) for side in (across > 0.0, across < 0.0))
    return float(floor.sum()) * sky.hours, min(right, left) * sky.hours
