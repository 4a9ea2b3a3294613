"""Metric or imperial: how a measure is written for a person. Tables and files stay metric; only what is read changes.

A measure knows its unit and how finely a crew works with it: wire to 0.1 m or 0.1 ft, tension to 10 N or 1 lbf.
"""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from wirerun.rounding import rounded

System = Literal["metric", "imperial"]

NONE: Final = "\N{EN DASH}"
# Exact by definition: the international foot, inch, acre and pound of 1959, and the standard acceleration of gravity.
FOOT_M: Final = 0.3048
INCH_MM: Final = 25.4
POUND_N: Final = 4.4482216152605
ACRE_HA: Final = 0.40468564224

_QUARTERS: Final = (
    "",
    "\N{VULGAR FRACTION ONE QUARTER}",
    "\N{VULGAR FRACTION ONE HALF}",
    "\N{VULGAR FRACTION THREE QUARTERS}",
)
_HEIGHT: Final = re.compile(r"\d+\.\d+")


def fixed(value: float | None, decimals: int = 0, unit: str = "") -> str:
    """Return a number with fixed decimals and its unit; a dash where there is none, and no minus before a zero.

    >>> fixed(-0.04, 1), fixed(17.449, 1, "m"), fixed(None) == NONE
    ('0.0', '17.4 m', True)
    """
    if value is None or not math.isfinite(value):
        return NONE
    shown = f"{rounded(value, decimals):.{decimals}f}"
    return f"{shown} {unit}" if unit else shown


def _stepped(value: float, step: float) -> str:
    """In whole steps, with as many decimals as the step has."""
    decimals = max(0, math.ceil(-math.log10(step) - 1e-9))
    # A step of the last decimal is the formatter's own rounding: the one that the tables are written with.
    return fixed(value if step == 10.0**-decimals else step * rounded(value / step), decimals)


def _shortest(value: float, step: float) -> str:
    """In whole steps, without decimals that say nothing."""
    shown = _stepped(value, step)
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def _quarters(value: float, step: float) -> str:
    """Inches and quarters of one, in whole steps: 47½."""
    quarters = round(4.0 * step * rounded(abs(value) / step))
    whole, rest = divmod(quarters, 4)
    sign = "-" if value < 0.0 and quarters else ""
    return f"{sign}{whole if whole or not rest else ''}{_QUARTERS[rest]}"


def _feet_and_inches(value: float, step: float) -> str:
    """Feet given, written in feet and whole inches: 17'11"."""
    inches = round(12.0 * step * rounded(abs(value) / step))
    sign = "-" if value < 0.0 and inches else ""
    return f"{sign}{inches // 12}'{inches % 12}\""


@dataclass(frozen=True, slots=True)
class Measure:
    """One kind of measure.

    Attributes
    ----------
    sign : str
        Its unit; empty where the way it is written says it.
    metric : float
        One of its unit in the metric one that the plan has.
    step : float
        How finely it is written, in its own unit.
    zero : float
        What it reads where the metric one is 0.
    """

    sign: str
    metric: float
    step: float
    zero: float = 0.0
    written: Callable[[float, float], str] = _stepped

    def bare(self, value: float | None) -> str:
        """Return the number without its unit; a dash where there is none."""
        if value is None or not math.isfinite(value):
            return NONE
        return self.written(value / self.metric + self.zero, self.step)

    def __call__(self, value: float | None) -> str:
        """Return the number with its unit."""
        shown = self.bare(value)
        return shown if shown == NONE or not self.sign else f"{shown} {self.sign}"


@dataclass(frozen=True, slots=True)
class Units:
    """The measures of a system, each asked with what the tables have.

    Attributes
    ----------
    wire : Measure
        Wire, what has run off a coil, lengths of rows. [m]
    far : Measure
        Long ways and sums. [m]
    place : Measure
        Where a post stands along its row. [m]
    height : Measure
        Heights on a post, and its depth. [m]
    ground : Measure
        Ground heights. [m]
    small : Measure
        What an adjuster or the strainer takes up. [mm]
    fine : Measure
        What is read off a rule. [mm]
    thick : Measure
        Diameter of a wire. [mm]
    force, reading : Measure
        Tension, and what a spring balance reads. [N]
    warmth : Measure
        Temperature. [C]
    area : Measure
        Ground, and what is reckoned by it. [ha]
    """

    system: System
    wire: Measure
    far: Measure
    place: Measure
    height: Measure
    ground: Measure
    small: Measure
    fine: Measure
    thick: Measure
    force: Measure
    reading: Measure
    warmth: Measure
    area: Measure

    def heights_in(self, words: str) -> str:
        """Return words of a table with every height in them, metres with decimals, rewritten."""
        return _HEIGHT.sub(lambda found: self.height.bare(float(found[0])), words)

    def quantity(self, value: float, unit: str) -> tuple[str, str]:
        """Return an amount of the schedule and its unit: metres in the unit of wire, others as they are."""
        if unit == "m":
            return self.wire.bare(value), self.wire.sign
        shown = fixed(value) if value == round(value) else fixed(value, 2).rstrip("0").rstrip(".")
        return shown, unit


METRIC: Final = Units(
    system="metric",
    wire=Measure("m", 1.0, 0.1),
    far=Measure("m", 1.0, 1.0),
    place=Measure("m", 1.0, 0.01),
    height=Measure("m", 1.0, 0.01),
    ground=Measure("m", 1.0, 0.1),
    small=Measure("mm", 1.0, 5.0),
    fine=Measure("mm", 1.0, 0.1, written=_shortest),
    thick=Measure("mm", 1.0, 0.01, written=_shortest),
    force=Measure("N", 1.0, 10.0),
    reading=Measure("N", 1.0, 0.5),
    warmth=Measure("\N{DEGREE SIGN}C", 1.0, 1.0),
    area=Measure("ha", 1.0, 0.01),
)

IMPERIAL: Final = Units(
    system="imperial",
    wire=Measure("ft", FOOT_M, 0.1),
    far=Measure("ft", FOOT_M, 1.0),
    place=Measure("", FOOT_M, 1.0 / 12.0, written=_feet_and_inches),
    height=Measure("in", INCH_MM / 1000.0, 0.5, written=_quarters),
    ground=Measure("ft", FOOT_M, 0.1),
    small=Measure("in", INCH_MM, 0.25, written=_quarters),
    fine=Measure("in", INCH_MM, 0.01, written=_shortest),
    thick=Measure("in", INCH_MM, 0.001),
    force=Measure("lbf", POUND_N, 1.0),
    reading=Measure("lbf", POUND_N, 0.1),
    warmth=Measure("\N{DEGREE SIGN}F", 5.0 / 9.0, 1.0, zero=32.0),
    area=Measure("ac", ACRE_HA, 0.01),
)


def units_of(system: System) -> Units:
    """Return the measures of a system."""
    return IMPERIAL if system == "imperial" else METRIC
