"""Friction in the clips and the give of the end posts, from tensions that were read along wires."""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.errors import Faults
from wirerun.ids import span_ids
from wirerun.measurements import Change, Learned
from wirerun.mechanics.calibrate import (
    FROM_BOTH,
    FROM_FAR,
    FROM_START,
    Fit,
    Readings,
    Strings,
    fit_readings,
    mu_sd_with_new_string,
    sd_with_one_more,
)
from wirerun.mechanics.chain import solve_chain
from wirerun.mechanics.friction import clip_turns
from wirerun.mechanics.gauge import tension_for
from wirerun.mechanics.give import give_together
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire
from wirerun.model.stood import Spot, Stood
from wirerun.rules.other_unit import other_unit
from wirerun.rules.wire import hung, wire_of
from wirerun.settings.measured import MeasuredSettings, TensionReading
from wirerun.wording import many

_SOURCE: Final = {"start": FROM_START, "far": FROM_FAR, "both": FROM_BOTH}
# How much colder a day is looked for, to read the give: choice. [K]
_COLDER_K: Final = 15.0
# Choice: a season's work of several crews.
_MOST: Final = 1000
# From this on the readings scatter more than their error says: choice.
_SCATTERED: Final = 1.5
# From this on a reading is wrong, and with it what all of them say: choice.
_TORN: Final = 3.0
# A crew strains to within this of what the plan has, either way: choice.
_STRAINED: Final = 2.0


class _String(NamedTuple):
    """A line of wire that was read: where, from which end strained, and how warm it was then."""

    block: int
    row: int
    wire: int
    line: int
    source: int


def learn_from_tensions(
    stood: Sequence[Stood],
    read: Sequence[tuple[Spot, TensionReading]],
    settings: MeasuredSettings,
    given: str,
    faults: Faults,
) -> list[Learned]:
    """What readings say of friction and of the end posts, for all blocks together.

    Parameters
    ----------
    stood : sequence of Stood
        The blocks with readings.
    read : sequence of (Spot, TensionReading)
        Each with the span it was read in.
    settings : MeasuredSettings
        The error of a reading, and how sure a value must be.
    given : str
        The file, for faults.
    faults : Faults
        Gets readings that no wire can give.
    """
    if len(read) > _MOST:
        faults.add(given, "", f"{len(read)} readings are more than anybody took; at most {_MOST} are read")
        return []
    before = len(faults.found)
    strings = list(dict.fromkeys(_string(spot, one) for spot, one in read))
    which = {string: number for number, string in enumerate(strings)}
    strained: dict[_String, float] = {}
    for spot, one in read:
        string = _string(spot, one)
        if one.strained_c is not None or string not in strained:
            strained[string] = one.temperature_c if one.strained_c is None else one.strained_c
    hung_up = _strings(stood, strings, np.array([strained[each] for each in strings]))
    first_span = hung_up.supports.rows.first - np.arange(len(strings))
    owner = np.array([which[_string(spot, one)] for spot, one in read])
    span = first_span[owner] + np.array([spot.place for spot, _ in read])
    tension = np.array(
        [_tension(stood, hung_up, spot, one, int(at)) for (spot, one), at in zip(read, span, strict=True)]
    )
    for (spot, one), pull in zip(read, tension, strict=True):
        _check(stood, spot, one, float(pull), given, faults)
    if len(faults.found) > before:
        return []
    config = stood[0].config
    readings = Readings(span, tension, np.array([one.temperature_c for _, one in read]))
    was_mu, was_give = config.states.friction, config.posts.end_give_mm_per_kn
    fit = fit_readings(hung_up, readings, settings.reading_share, was_mu, was_give)
    told = _Told(stood, strings, hung_up, fit, settings, tuple(spot.at_line for spot, _ in read))
    return [_friction(told, was_mu), _give(told, was_give)]


class _Told(NamedTuple):
    """What the sentences are made of."""

    stood: Sequence[Stood]
    strings: Sequence[_String]
    hung_up: Strings
    fit: Fit
    settings: MeasuredSettings
    lines: tuple[int, ...]

    @property
    def number(self) -> int:
        """How many readings."""
        return len(self.lines)

    @property
    def readings(self) -> str:
        """How many readings on how many lines."""
        return f"{many(self.number, 'reading')} on {many(len(self.strings), 'line')} of wire"

    @property
    def share(self) -> float:
        """What the wires were strained to, as a share of what the plan has."""
        return float(np.median(self.fit.tension_n / (self.hung_up.set_n * self.hung_up.at_source)))

    @property
    def of_others(self) -> bool:
        """Whether these wires can hardly have been strained to that."""
        return not 1.0 / _STRAINED <= self.share <= _STRAINED

    @property
    def wrong(self) -> bool:
        """Whether the readings cannot be right, so that nothing is taken of them."""
        return bool(self.of_others or self.fit.scatter > _TORN)

    @property
    def off(self) -> bool:
        """Whether the readings scatter much more than their error says, or are not of these wires."""
        return bool(self.wrong or self.fit.scatter > _SCATTERED)

    @property
    def doubt(self) -> str:
        """What is said of that."""
        if self.of_others:
            unit = other_unit(self.share)
            return f" By them the wires were strained to {self.share:.2g} of what the plan has{unit}."
        if not self.off:
            return ""
        share = 100.0 * self.settings.reading_share
        worst = self.lines[int(np.abs(self.fit.left_over).argmax())]
        return (
            f" The readings scatter {self.fit.scatter:.1f} times as much as an error of {share:g} % allows, and so "
            f"uncertain are these numbers: look for one that is off, first in line {worst}."
        )

    def stays(self, was: float, *, taken: bool) -> str:
        """What becomes of the value so far."""
        if taken:
            return f"it was {was:g}"
        return f"{'not taken' if self.wrong else 'too unsure'}, so it stays at {was:g}"

    def span_name(self, span: int) -> str:
        """Name of a span of the strings, and its wire."""
        string = self.strings[int(self.hung_up.of_span[span])]
        posts, first = self.stood[string.block].posts, self.hung_up.supports.rows.first
        place = span - int((first - np.arange(len(first)))[self.hung_up.of_span[span]])
        name = span_ids(posts.post_id[posts.first[string.row] + np.array([place])])[0]
        return f"{name} of wire {self.stood[string.block].config.wires[string.wire].id}"


def _string(spot: Spot, one: TensionReading) -> _String:
    return _String(spot.block, spot.row, spot.wire, one.line, _SOURCE[one.strained_from])


def _strings(stood: Sequence[Stood], strings: Sequence[_String], strained_c: FloatArray) -> Strings:
    """The lines that were read, one after another."""
    parts, turns, give = [], [], []
    for string in strings:
        block = stood[string.block]
        posts, wires = block.posts, block.config.wires
        at = slice(int(posts.first[string.row]), int(posts.last[string.row]) + 1)
        of_block = hung(posts, wires[string.wire])
        parts.append((of_block.x_m[at], of_block.z_m[at]))
        turns.append(posts.turn_rad[at])
        lines = np.array([wire.lines for wire in wires], dtype=np.float64)
        stiffness = np.array([float(wire_of(wire).axial_stiffness_n) for wire in wires])
        give.append(give_together(1e-6, lines, stiffness)[string.wire])
    size = np.array([len(x) for x, _ in parts])
    specs = [wire_of(stood[string.block].config.wires[string.wire]) for string in strings]
    values = ("weight_n_per_m", "axial_stiffness_n", "expansion_per_k")
    return Strings(
        supports=Supports(
            np.concatenate([x for x, _ in parts]),
            np.concatenate([z for _, z in parts]),
            np.repeat(np.arange(len(strings)), size),
        ),
        wire=Wire(*(np.array([float(np.asarray(getattr(spec, name))) for spec in specs]) for name in values)),
        plan_turn_rad=np.concatenate(turns),
        set_n=np.array([stood[string.block].config.wires[string.wire].tension_n for string in strings]),
        strained_c=strained_c,
        source=np.array([string.source for string in strings], dtype=np.int64),
        give_m_per_n=np.array(give),
    )


def _tension(stood: Sequence[Stood], hung_up: Strings, spot: Spot, one: TensionReading, span: int) -> float:
    """Tension that a reading means; the wire slides in its clips, so the row shares the stretch of the gauge [N]."""
    if one.gauge == "tension":
        return one.reading
    check, supports = stood[spot.block].config.check, hung_up.supports
    chord = np.hypot(supports.dx_m, supports.rise_m)
    string = int(hung_up.of_span[span])
    along = float(chord[hung_up.of_span == string].sum())
    stiffness = float(np.asarray(hung_up.wire.axial_stiffness_n)[string])
    if one.gauge == "gauge":
        push, base, out = one.reading, check.gauge_base_m, check.gauge_push_mm / 1000.0
    else:
        push, base, out = check.side_force_n, float(chord[span]), one.reading / 1000.0
    return float(tension_for(push, base, out, stiffness, along))


def _check(stood: Sequence[Stood], spot: Spot, one: TensionReading, pull_n: float, given: str, faults: Faults) -> None:
    """Refuse a reading that is of no such wire."""
    wire, place = stood[spot.block].config.wires[spot.wire], f"line {spot.at_line}, reading"
    if not pull_n > 0.0:
        faults.add(given, place, f"{one.reading:g} is less than a wire without pull gives; is it another gauge?")
    elif pull_n > wire.strength_n:
        breaks = f"more than the {wire.strength_n:.0f} N at which wire {wire.id} breaks"
        faults.add(given, place, f"{one.reading:g} means {pull_n:.0f} N, {breaks}; is it another gauge?")
    if one.line > wire.lines:
        faults.add(given, f"line {spot.at_line}, line", f"{one.line} will not do; wire {wire.id} has {wire.lines}")


def _sure(value: float, sd: float, was: float, settings: MeasuredSettings) -> bool:
    return bool(sd <= settings.trust_share * max(value, was))


def _friction(told: _Told, was: float) -> Learned:
    fit = told.fit
    place, unit = "states.friction", ""
    if np.isnan(fit.mu):
        sentence = (
            f"{told.readings} tell nothing of friction: none of these lines was read in two spans with clips between "
            f"them. It stays at {was:g}."
        )
        return Learned("friction", place, unit, was, None, None, told.number, taken=False, sentence=sentence)
    taken = not told.wrong and _sure(fit.mu, fit.mu_sd, was, told.settings)
    to = f" (to {100.0 * fit.mu_sd / fit.mu:.0f} % only)" if fit.mu_sd > 0.2 * fit.mu > 0.0 else ""
    sentence = (
        f"Friction in the clips is {fit.mu:.2f} \N{PLUS-MINUS SIGN} {fit.mu_sd:.2f}{to} by {told.readings}; "
        f"{told.stays(was, taken=taken)}.{'' if told.wrong else _more_friction(told)}{told.doubt}"
    )
    changes = (Change("", place, round(fit.mu, 4)),) if taken else ()
    return Learned("friction", place, unit, was, fit.mu, fit.mu_sd, told.number, taken, sentence, changes, off=told.off)


def _more_friction(told: _Told) -> str:
    """Which readings would help most, in words."""
    spans = np.arange(len(told.hung_up.of_span))
    one_more, _ = sd_with_one_more(told.fit, spans, told.hung_up.strained_c[told.hung_up.of_span])
    best = int(np.argmin(one_more))
    turn, name = _most_turns(told)
    two = float(mu_sd_with_new_string(told.fit.mu_sd, told.fit.error, np.array(turn)))
    return (
        f" What would help most: one more in {told.span_name(best)} makes it \N{PLUS-MINUS SIGN} "
        f"{one_more[best]:.3f}; one in the first and one in the last span of {name}, {turn:.1f} rad of turns apart, "
        f"\N{PLUS-MINUS SIGN} {two:.3f}."
    )


def _most_turns(told: _Told) -> tuple[float, str]:
    """Greatest sum of turns of any line in the blocks that were read, and its name [rad]."""
    found = (0.0, "")
    for block in told.stood:
        posts = block.posts
        for wire in block.config.wires:
            chain = solve_chain(hung(posts, wire), wire_of(wire), wire.tension_n)
            turns = np.add.reduceat(np.nan_to_num(clip_turns(chain, posts.turn_rad)), posts.first)
            row = int(np.argmax(turns))
            found = max(found, (float(turns[row]), f"{posts.rows.row_id[row]} of wire {wire.id}"))
    return found


def _give(told: _Told, was: float) -> Learned:
    fit = told.fit
    place, unit = "posts.end_give_mm_per_kn", "mm/kN"
    if np.isnan(fit.give):
        sentence = (
            f"{told.readings} tell nothing of the give of the end posts, which stays at {was:g} mm/kN: read the same "
            f"places again on a day {_COLDER_K:g} K colder or warmer."
        )
        return Learned("end give", place, unit, was, None, None, told.number, taken=False, sentence=sentence)
    taken = not told.wrong and _sure(fit.give, fit.give_sd, was, told.settings)
    sentence = (
        f"An end post gives by {fit.give:.1f} \N{PLUS-MINUS SIGN} {fit.give_sd:.1f} mm/kN by {told.readings}; "
        f"{told.stays(was, taken=taken)}.{'' if told.wrong else _more_give(told)}{told.doubt}"
    )
    changes = (Change("", place, round(fit.give, 3)),) if taken else ()
    return Learned(
        "end give", place, unit, was, fit.give, fit.give_sd, told.number, taken, sentence, changes, off=told.off
    )


def _more_give(told: _Told) -> str:
    """Which reading would help most, in words."""
    spans = np.arange(len(told.hung_up.of_span))
    _, one_more = sd_with_one_more(told.fit, spans, told.hung_up.strained_c[told.hung_up.of_span] - _COLDER_K)
    best = int(np.nanargmin(one_more))
    return (
        f" What would help most: one more in {told.span_name(best)}, {_COLDER_K:g} K colder than when it was strained, "
        f"makes it \N{PLUS-MINUS SIGN} {one_more[best]:.2f}."
    )
