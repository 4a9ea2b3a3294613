"""What is done to one wire of one row: mended where it broke, or set right where it is slack."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Break:
    """How a broken wire is mended.

    Attributes
    ----------
    place : str
        The post or span it broke at.
    at_end : bool
        Whether that is an end post: then there is one join, and a new knot.
    piece_m, missing_m, cut_back_m : float
        Length of the piece to put in; what of that stands for wire that is missing or spoilt, and for what is cut off
        on each side. [m]
    joins : tuple of str
        Where each join comes, in words.
    joiner : str or None
        What it is made with, as named in the catalogue.
    pieces : int
        How many of those for all joins.
    overlap_m : float
        How far two lengths lie past each other in a join. [m]
    bears_n : float
        Pull that a join bears. [N]
    drawn_back_mm : tuple of float
        How far the ends have drawn back at most, towards the first and the last post. [mm]
    strain_in : str
        Span in which the last join is made.
    there_n : float
        Tension to set there. [N]
    kept : tuple of float
        Share of a pull there that is left at the first and at the last post. [-]
    """

    place: str
    at_end: bool
    piece_m: float
    missing_m: float
    cut_back_m: float
    joins: tuple[str, ...]
    joiner: str | None
    pieces: int
    overlap_m: float
    bears_n: float
    drawn_back_mm: tuple[float, float]
    strain_in: str
    there_n: float
    kept: tuple[float, float]


@dataclass(frozen=True, slots=True)
class ByAdjuster:
    """The adjuster of a wire, where it can strain it again: its kind, end, and how far it is let out first.

    `turns` is for a winding strainer, else None.
    """

    kind: str
    end: str
    out_mm: float
    turns: float | None


@dataclass(frozen=True, slots=True)
class Read:
    """What a gauge says of a wire now: its reading, the tension that means, and how much wire to take up.

    `take_up_mm` is negative where it must be let out.
    """

    gauge_n: float
    tension_n: float
    take_up_mm: float


@dataclass(frozen=True, slots=True)
class Repair:
    """What to do to one wire of one row, one line like the other.

    Attributes
    ----------
    row_id, wire_id, item : str
        Which; `item` as named in the catalogue, None where it has none.
    kind : str
        "fixed" or "foliage".
    lines : int
        How many side by side.
    diameter_mm : float
    celsius : float
        Temperature of the wire. [degree C]
    tension_n : float
        Tension to set at the row's first post, the wire in its clips at its own height. [N]
    far_n : float
        Tension at the last post then, without friction. [N]
    pull_mm : float
        How far it is drawn from straight and slack to that. [mm]
    per_cm_n : float
        What a centimetre more adds. [N]
    gauge_span : str
        Span in which the gauge is read: the middle one.
    gauge_n : tuple of float
        What it reads there where the wire slides, and where it sticks; NaN where the span is too short. [N]
    greatest_n : float
        Greatest tension over all states of the year. [N]
    adjuster : ByAdjuster or None
    broken : Break or None
        None where the wire is slack and whole.
    read : Read or None
        What was read on it, if anything was.
    """

    row_id: str
    wire_id: str
    item: str | None
    kind: str
    lines: int
    diameter_mm: float
    celsius: float
    tension_n: float
    far_n: float
    pull_mm: float
    per_cm_n: float
    gauge_span: str
    gauge_n: tuple[float, float]
    greatest_n: float
    adjuster: ByAdjuster | None
    broken: Break | None
    read: Read | None
