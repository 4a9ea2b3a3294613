"""A repair in words for a terminal of 80 columns, and as JSON."""

import json
import math
import textwrap
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import Any, Final

from wirerun.errors import printable
from wirerun.model.repair import Break, Repair
from wirerun.rounding import rounded
from wirerun.rules.mending import CAUTIONS
from wirerun.rules.order_of_work import STRAIN
from wirerun.units import METRIC, NONE, Measure, System, Units, fixed, units_of

_WIDE: Final = 80
_LABEL: Final = 10
_TIMES: Final = "\N{MULTIPLICATION SIGN}"


def repair_json(done: Iterable[Repair]) -> str:
    """Return repairs as JSON, metric, to a thousandth; what is not known is null."""
    return json.dumps([_without_nan(asdict(one)) for one in done], indent=2, ensure_ascii=False)


def _without_nan(value: Any) -> Any:  # noqa: ANN401 - whatever a repair holds
    if isinstance(value, dict):
        return {name: _without_nan(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_without_nan(each) for each in value]
    if isinstance(value, float):
        return rounded(value, 3) if math.isfinite(value) else None
    return value


def repair_words(done: Iterable[Repair], system: System) -> str:
    """Return what to do, wire by wire, and what to mind.

    Parameters
    ----------
    done : iterable of Repair
        The wires.
    system : str
        Whether it is read in metric or imperial units.
    """
    units = units_of(system)
    parts = ["\n".join(_of_wire(one, units)) for one in done]
    cautions = "\n".join(["Mind:", *(_listed(sentence) for sentence in (STRAIN, *CAUTIONS))])
    return printable_lines("\n\n".join([*parts, cautions]))


def printable_lines(text: str) -> str:
    """Return lines, each without anything that a terminal would obey."""
    return "\n".join(printable(line) for line in text.split("\n"))


def _listed(sentence: str) -> str:
    return textwrap.fill(sentence, _WIDE, initial_indent="- ", subsequent_indent="  ")


def _line(label: str, words: str) -> str:
    return textwrap.fill(words, _WIDE, initial_indent=label.ljust(_LABEL), subsequent_indent=" " * _LABEL)


def _of_wire(one: Repair, units: Units) -> Iterator[str]:
    broke = f", broken at {one.broken.place}" if one.broken else ""
    yield f"Row {one.row_id}, wire {one.wire_id}{broke}"
    lines = f"one of {one.lines} lines" if one.lines > 1 else "one line"
    yield _line("Wire", f"{lines} of {units.thick(one.diameter_mm)}, {one.item or 'not in the catalogue'}")
    if one.broken is not None:
        yield from _mended(one, one.broken, units)
    yield from _strained(one, units)


def _mended(one: Repair, broken: Break, units: Units) -> Iterator[str]:
    mm = _fine(units)
    back = [mm.bare(each) for each in broken.drawn_back_mm]
    yield _line(
        "Gap",
        f"The ends draw back by up to {back[0]} and {mm(broken.drawn_back_mm[1])} of themselves: so much of a gap is "
        "no missing wire.",
    )
    twice = "" if broken.at_end else f"2 {_TIMES} "
    parts = [
        f"{units.height(broken.missing_m)} missing" if broken.missing_m else "nothing missing",
        f"{twice}{units.height(broken.cut_back_m)} cut back beside the break",
        f"{twice}{units.height(broken.overlap_m)} in the {'join' if broken.at_end else 'joins'}",
        *(["the tail of a new knot"] if broken.at_end else []),
    ]
    yield _line(
        "Cut",
        f"{units.height(broken.piece_m)} of the same wire: {', '.join(parts)}. Bring half as much again: what is too "
        "long is cut off at the last join.",
    )
    if broken.joiner is None:
        joiner = "the catalogue has nothing to join wire with"
    else:
        joiner = f"{broken.pieces} {_TIMES} {broken.joiner}"
    yield _line("Join", f"{' and '.join(broken.joins)}: {joiner}.")
    share = one.greatest_n / broken.bears_n
    verdict = "that is too much: renew the line" if share > 1.0 else f"{100.0 * share:.0f} % of that"
    yield _line(
        "Bears",
        f"A join bears {units.force(broken.bears_n)}; in the year the wire gets to {units.force(one.greatest_n)}, "
        f"{verdict}.",
    )


def _strained(one: Repair, units: Units) -> Iterator[str]:
    mm, adjuster = _fine(units), one.adjuster
    warm = units.warmth(one.celsius)
    if one.kind == "foliage":
        yield _line("Before", "Put it into the clips at its own height, if it is lifted or let down.")
    else:
        yield _line("Before", "It must slide under its staples; draw those that hold it fast.")
    if adjuster is not None:
        turns = "" if adjuster.turns is None else f" ({fixed(adjuster.turns, 1)} turns)"
        joined = "join with the wire drawn tight by hand, " if one.broken else ""
        yield _line(
            "Strain",
            f"By the {adjuster.kind} at the {adjuster.end}: let it out by {units.small(adjuster.out_mm)}{turns}, "
            f"{joined}then wind in until it reads right.",
        )
    elif one.broken is not None and not one.broken.at_end:
        kept = one.broken.kept
        yield _line(
            "Strain",
            f"At the last join, {one.broken.strain_in}, a grip on each side: {units.force(one.broken.there_n)} there. "
            f"Clips leave {100.0 * kept[0]:.0f} % of it at the first post and {100.0 * kept[1]:.0f} % at the last.",
        )
    else:
        yield _line("Strain", "At an end post, the other end fast.")
    yield _line(
        "Set",
        f"{units.force(one.tension_n)} at the first post with the wire at {warm} ({units.force(one.far_n)} at the last "
        f"without friction): {mm(one.pull_mm)} from straight and slack; a centimetre more adds "
        f"{units.force(one.per_cm_n)}.",
    )
    slides, sticks = (units.reading.bare(each) for each in one.gauge_n)
    if slides != NONE:
        yield _line(
            "Gauge",
            f"In {one.gauge_span} it must read {slides} (sliding) to {sticks} {units.reading.sign} (stuck).",
        )
    if one.read is not None:
        far = one.read.take_up_mm
        do = f"take up {mm(far)}" if far >= 0.0 else f"let out {mm(-far)}"
        yield _line(
            "Now",
            f"{units.reading(one.read.gauge_n)} on the gauge is about {units.force(one.read.tension_n)} at the first "
            f"post: {do}, then read again.",
        )


def _fine(units: Units) -> Measure:
    """The strainer's pull, finely enough for a short row."""
    return Measure("mm", 1.0, 1.0) if units.system == METRIC.system else units.fine
