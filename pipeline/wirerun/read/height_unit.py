"""The unit of a raster's heights: what the band says, what the vertical CRS says, what the config says."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from pyproj import CRS

from wirerun.errors import Faults
from wirerun.findings import Finding

Unit = Literal["m", "ft", "us-ft", "ind-ft"]

# Metres in one unit, as the EPSG registry has them: codes 9001, 9002, 9003 and 9080. The foot of 1893 is 1200/3937 m
# and that of the Indian survey 12/39.370142 m. A test holds them against the registry.
METRES: Final[Mapping[Unit, float]] = {"m": 1.0, "ft": 0.3048, "us-ft": 1200.0 / 3937.0, "ind-ft": 12.0 / 39.370142}

_NAMES: Final[Mapping[Unit, str]] = {
    "m": "metres",
    "ft": "international feet",
    "us-ft": "US survey feet",
    "ind-ft": "Indian feet",
}

# How files spell them, in small letters and without spaces, underscores, hyphens and brackets. Bare feet are
# international ones: no file means the other ones by that word, and the difference is 0.2 mm in 100 m.
_SPELLINGS: Final[Mapping[str, Unit]] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("ft", "foot", "feet", "internationalfoot", "internationalfeet", "footinternational"), "ft"),
    **dict.fromkeys(
        ("usft", "ftus", "ussurveyfoot", "ussurveyfeet", "surveyfoot", "usfoot", "usfeet", "sfoot"), "us-ft"
    ),
    **dict.fromkeys(("footus", "footussurvey", "surveyfeet"), "us-ft"),
    **dict.fromkeys(("indft", "ftind", "indianfoot", "indianfeet"), "ind-ft"),
}
_SILENT: Final = frozenset({"", "unknown", "none", "n/a", "na", "undefined"})
_IGNORED: Final = str.maketrans("", "", " _-[]().")


class Says(NamedTuple):
    """What a config says of its files of heights: unit and CRS; `files` is the setting that names them."""

    unit: Unit | None = None
    crs: str | None = None
    files: str = "elevation.raster"

    @property
    def crs_setting(self) -> str:
        """Return how the setting of the CRS is called."""
        return f"{self.files}_crs"

    @property
    def unit_setting(self) -> str:
        """Return how the setting of the unit is called."""
        return f"{self.files.partition('.')[0]}.height_unit"


@dataclass(frozen=True, slots=True)
class HeightUnit:
    """Metres in one unit of the raster's heights, and what to tell of it."""

    metres: float
    finding: Finding | None


def find_height_unit(band_says: str | None, crs: CRS | None, says: Says, given: str, faults: Faults) -> HeightUnit:
    """Return the unit of the heights; metres, after a fault, where it cannot be told.

    Band, vertical CRS and config must agree as far as they speak. Where none speaks, metres are taken and told of:
    as a warning where the raster measures the ground in feet, since its heights may well be feet too.

    Parameters
    ----------
    band_says : str or None
        Unit type of the band.
    crs : CRS or None
        CRS of the raster, with its vertical part if it has one.
    says : Says
        What the config says.
    given : str
        The raster's path as the user gave it.
    faults : Faults
        Gets the fault.
    """
    metres, config_says = HeightUnit(METRES["m"], None), says.unit
    spelled = (band_says or "").strip()
    band = _SPELLINGS.get(spelled.lower().translate(_IGNORED))
    if band is None and spelled.lower() not in _SILENT:
        known = ", ".join(METRES)
        faults.add(given, "", f'the band\'s height unit "{spelled[:40]}" is not known; known are {known}')
        return metres
    vertical, odd = _vertical_unit(crs)
    if odd:
        faults.add(given, "", f'the unit "{odd}" of the vertical CRS is not known; known are {", ".join(METRES)}')
        return metres
    if band and vertical and band != vertical and config_says not in {band, vertical}:
        faults.add(
            given,
            "",
            f"the band says {_NAMES[band]}, the vertical CRS {_NAMES[vertical]}; "
            f'set {says.unit_setting} to "{band}" or "{vertical}"',
        )
        return metres
    spoken = {unit for unit in (band, vertical) if unit}
    if config_says and spoken and config_says not in spoken:
        said = _NAMES[band or vertical or config_says]
        faults.add(
            given, "", f'heights are in {said}, but {says.unit_setting} is "{config_says}"; take the setting out'
        )
        return metres
    unit = config_says or band or vertical
    if unit is None:
        return _unspoken(crs, given, says.unit_setting)
    return HeightUnit(METRES[unit], _converted(unit, given))


def _unspoken(crs: CRS | None, given: str, setting: str) -> HeightUnit:
    """Metres, and what to tell of it.

    Metres where the ground is in feet as well. Feet are likely there, but of the two mistakes this one shows: grades
    and loads come out 3.28 times too great, and too many clips are bought. Metres taken for feet would make the ground
    look smooth, and the clips that hold a wire down would be missing without a word.
    """
    ground = next((axis.unit_name for axis in (crs.axis_info if crs else ()) if "foot" in axis.unit_name.lower()), None)
    if ground is not None:
        sentence = (
            f"The ground is measured in feet ({ground}) and the heights name no unit; metres were taken. If they are "
            "feet, every grade and load is 3.28 times too great and too many clips are bought: say which in "
            'height_unit, "us-ft", "ft" or "ind-ft" ("m" if they are metres) beside the raster\'s name in the config.'
        )
        return HeightUnit(METRES["m"], Finding("height-unit-unsaid", given, sentence))
    kind = "point cloud" if given.lower().endswith((".las", ".laz")) else "raster"
    sentence = f"The {kind} names no height unit; metres were taken. If it is feet, set {setting}."
    return HeightUnit(METRES["m"], Finding("height-unit-assumed", given, sentence))


def _converted(unit: Unit, given: str) -> Finding | None:
    if unit == "m":
        return None
    sentence = f"Heights were converted from {_NAMES[unit]}, {METRES[unit]:.10g} m each."
    return Finding("height-unit-converted", given, sentence)


def _vertical_unit(crs: CRS | None) -> tuple[Unit | None, str | None]:
    """Return the unit of the vertical axis if there is one, and its name where nobody knows it."""
    axes = crs.axis_info[2:] if crs else []
    if not axes:
        return None, None
    for unit, metres in METRES.items():
        # The feet differ by two millionths; their printed factors have ten digits or more.
        if abs(axes[0].unit_conversion_factor / metres - 1.0) < 1e-9:
            return unit, None
    return None, axes[0].unit_name
