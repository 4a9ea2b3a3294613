"""Friction in the clips and the give of the end posts from tensions that were read along wires: least squares.

Strained at one end, a wire has exp(-mu theta) of its pull left after turns of theta in all
(`wirerun.mechanics.friction`). Read right then at several places,

    ln T = ln T_s + ln rho - mu theta,

with T_s the pull at the straining end, not known, and rho what height does to it. With one string and readings of
relative error s the slope has the standard deviation s / (sqrt(n) sd(theta)): turns far apart tell much, more readings
of the same turn little. A wire that gets colder afterwards gets tighter everywhere by as much as its length asks for
between its ends (`wirerun.mechanics.season`), and how much that is tells how far the ends give:

    T = T_s rho exp(-mu theta) + dT(temperature, give).

That the difference friction has left stays as it is, while the temperature changes, is an assumption: a wire that gets
much slacker slides on. So friction is read right after straining, the give as many kelvins away from it as there are.

The unknowns are ln T_s of each string, and mu and the give for all of them together. Their covariance is that of the
linear problem at the solution, (X' X)^-1 s^2, with s the error of a reading, or the scatter found where that is more.

References
----------
Least squares and its covariance: as scipy.optimize.curve_fit has them. Losses along a tendon, mu theta and a wobble
that acts as theta growing with length: EN 1992-1-1:2004, (5.45), as the library Blueprints has it; where the turn per
metre is the same everywhere the two cannot be told apart, and what is fitted here has the wobble in it.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.mechanics.chain import Chain, solve_chain, unstretched_totals
from wirerun.mechanics.friction import clip_turns
from wirerun.mechanics.give import Give
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire

#: Where a wire was strained from: codes of `Strings.source`.
FROM_START, FROM_FAR, FROM_BOTH = 0, 1, 2
#: Kelvins between two readings of a string from which on they tell of the give: choice.
LEAST_K: Final = 5.0
# Turns of a string that are no further apart tell nothing of friction: choice. [rad]
_LEAST_TURN: Final = 1e-3
_MOST_MU, _MOST_GIVE = 2.0, 200.0
_STEP: Final = 1e-5
# Share of its pull that a wire keeps in a trial that leaves it loose: only to lead the search away.
_LOOSE: Final = 0.01


@dataclass(frozen=True, eq=False)
class Strings:
    """Lines of wire that were strained and read. Axis string; a string is a row of `supports`.

    Attributes
    ----------
    supports : Supports
        Of all strings, one after another.
    wire : Wire
        One for each string.
    plan_turn_rad : FloatArray
        Turn of the row in plan at each support. [rad]
    set_n : FloatArray
        Tension it was to be set to, at its first support: only the shape of the wire hangs on it. [N]
    strained_c : FloatArray
        Its temperature then. [degree C]
    source : IntArray
        From where: `FROM_START`, `FROM_FAR` or `FROM_BOTH`.
    give_m_per_n : FloatArray
        How far its ends give for a newton of this line, all wires of the row changing alike, for a give of 1 mm/kN.
    """

    supports: Supports
    wire: Wire
    plan_turn_rad: FloatArray
    set_n: FloatArray
    strained_c: FloatArray
    source: IntArray
    give_m_per_n: FloatArray

    @cached_property
    def chain(self) -> Chain:
        """The strings as they were to be set, without friction."""
        return solve_chain(self.supports, self.wire, self.set_n)

    @cached_property
    def of_span(self) -> IntArray:
        """String of each span."""
        return self.supports.rows.of_span

    @cached_property
    def turn_rad(self) -> FloatArray:
        """Turns between the nearest straining end and each span, shape (n_spans,) [rad]."""
        rows = self.supports.rows
        along = np.cumsum(np.nan_to_num(clip_turns(self.chain, self.plan_turn_rad)))
        ahead = along[rows.near] - along[rows.first][self.of_span]
        back = along[rows.last][self.of_span] - along[rows.near]
        source = self.source[self.of_span]
        return np.select([source == FROM_START, source == FROM_FAR], [ahead, back], np.minimum(ahead, back))

    @cached_property
    def at_source(self) -> FloatArray:
        """Tension at the straining end over that at the first support, by height alone, shape (n_strings,)."""
        rows, tension = self.supports.rows, self.chain.support_tension_n
        return np.where(self.source == FROM_FAR, tension[rows.last] / tension[rows.first], 1.0)

    @cached_property
    def by_height(self) -> FloatArray:
        """Mean tension in each span over that at the straining end, by height alone, shape (n_spans,)."""
        spans = self.chain.spans
        middle = 0.5 * (spans.tension_start_n + spans.tension_end_n)
        return np.asarray(middle / (self.set_n * self.at_source)[self.of_span])


class Readings(NamedTuple):
    """Tensions read: in which span of the strings, how much, and how warm the wire was; shapes (n,) [N], [degree C]."""

    span: IntArray
    tension_n: FloatArray
    celsius: FloatArray


@dataclass(frozen=True, eq=False)
class Fit:
    """What the readings tell.

    Attributes
    ----------
    mu, mu_sd : float
        Friction and its standard deviation; NaN where nothing tells it. [-]
    give, give_sd : float
        Give of an end post and its standard deviation; NaN likewise. [mm/kN]
    tension_n, tension_sd : FloatArray
        Pull of each string at its straining end when strained. [N]
    left_over : FloatArray
        What is left over of each reading, by its error.
    scatter : float
        Root mean square of what is left over, by the error of a reading: about 1 where the two agree; NaN without
        more readings than unknowns.
    unknowns : FloatArray
        ln of the pulls, then mu and the give as far as they were fitted.
    covariance : FloatArray
        Of the unknowns.
    """

    mu: float
    mu_sd: float
    give: float
    give_sd: float
    tension_n: FloatArray
    tension_sd: FloatArray
    left_over: FloatArray
    scatter: float
    unknowns: FloatArray
    covariance: FloatArray
    model: "_Model"
    error: float


def fit_readings(strings: Strings, readings: Readings, error: float, mu: float, give: float) -> Fit:
    """Friction and give of the ends from readings along strings.

    Parameters
    ----------
    strings : Strings
        The lines that were read.
    readings : Readings
        At least one of each string.
    error : float, > 0
        One sigma of a reading, as a share of it. [-]
    mu, give : float
        What is taken for that which the readings do not tell, and where the search begins. [-], [mm/kN]

    Returns
    -------
    Fit
        Values within 0 to 2 and 0 to 200 mm/kN.
    """
    count = len(strings.set_n)
    owner = strings.of_span[readings.span]
    told_mu = bool((_spread(owner, strings.turn_rad[readings.span], count) > _LEAST_TURN).any())
    told_give = bool((_spread(owner, readings.celsius, count) >= LEAST_K).any())
    model = _Model(strings, mu, give, told_mu, told_give)
    logs = np.log(readings.tension_n)
    at_source = logs - np.log(strings.by_height[readings.span])
    begin = np.bincount(owner, at_source, count) / np.bincount(owner, minlength=count)
    start = np.concatenate([begin, [max(mu, 0.01)][: int(told_mu)], [max(give, 1.0)][: int(told_give)]])
    low = np.concatenate([np.full(count, -np.inf), np.zeros(told_mu + told_give)])
    high = np.concatenate([np.full(count, np.inf), [_MOST_MU][: int(told_mu)], [_MOST_GIVE][: int(told_give)]])

    def left_over(unknowns: FloatArray) -> FloatArray:
        return (model.log_tension(unknowns, readings.span, readings.celsius) - logs) / error

    def slopes_of(unknowns: FloatArray) -> FloatArray:
        return model.slopes(unknowns, readings.span, readings.celsius) / error

    begun = np.clip(start, low, high)
    from scipy.optimize import least_squares  # noqa: PLC0415 - slow to import, and seldom wanted

    found = least_squares(left_over, begun, slopes_of, (low, high), x_scale=np.where(high > _MOST_MU, 1.0, 0.1))
    spare = len(logs) - len(found.x)
    scatter = float(np.sqrt(2.0 * found.cost / spare)) if spare > 0 else np.nan
    slopes = slopes_of(found.x)
    covariance = np.linalg.pinv(slopes.T @ slopes) * max(1.0, np.nan_to_num(scatter)) ** 2
    sd = np.sqrt(np.diag(covariance))
    pulls = np.exp(found.x[:count])
    return Fit(
        mu=float(found.x[count]) if told_mu else np.nan,
        mu_sd=float(sd[count]) if told_mu else np.nan,
        give=float(found.x[-1]) if told_give else np.nan,
        give_sd=float(sd[-1]) if told_give else np.nan,
        tension_n=pulls,
        tension_sd=pulls * sd[:count],
        left_over=left_over(found.x),
        scatter=scatter,
        unknowns=found.x,
        covariance=covariance,
        model=model,
        error=error * max(1.0, float(np.nan_to_num(scatter))),
    )


def sd_with_one_more(fit: Fit, span: IntArray, celsius: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Standard deviations of mu and of the give with one reading more, for each of several places, shapes (n,).

    By C' = C - C x x' C / (s^2 + x' C x), with x the slopes of the place. NaN where nothing tells the value.

    Parameters
    ----------
    fit : Fit
        What is known without it.
    span : shape (n,)
        Span of the strings that it would be read in.
    celsius : shape (n,)
        How warm the wire would be. [degree C]
    """
    slopes = fit.model.slopes(fit.unknowns, span, celsius)
    covered = slopes @ fit.covariance
    whole = fit.error**2 + np.einsum("ij,ij->i", covered, slopes)
    after = np.diag(fit.covariance) - covered**2 / whole[:, None]
    sd = np.sqrt(np.maximum(after, 0.0))
    none = np.full(len(span), np.nan)
    count = len(fit.tension_n)
    return sd[:, count] if fit.model.told_mu else none, sd[:, -1] if fit.model.told_give else none


def mu_sd_with_new_string(mu_sd: float, error: float, turn_rad: FloatArray) -> FloatArray:
    """Standard deviation of mu with a new string read twice, at both ends of so many turns, shape of the turns [-].

    One that is read twice tells the slope with sqrt(2) s / theta; the two are weighed together:

    >>> round(float(mu_sd_with_new_string(0.07, 0.03, np.array(0.5))), 3)
    0.054
    """
    return np.asarray(1.0 / np.sqrt(1.0 / mu_sd**2 + 0.5 * (turn_rad / error) ** 2))


def _spread(owner: IntArray, values: FloatArray, count: int) -> FloatArray:
    """Greatest less least value of each string, shape (count,)."""
    most, least = np.full(count, -np.inf), np.full(count, np.inf)
    np.maximum.at(most, owner, values)
    np.minimum.at(least, owner, values)
    return np.asarray(most - least)


@dataclass(frozen=True, eq=False)
class _Model:
    """Logarithm of the tension at places of the strings, by the unknowns; `mu` and `give` where they are none."""

    strings: Strings
    mu: float
    give: float
    told_mu: bool
    told_give: bool

    def log_tension(self, unknowns: FloatArray, span: IntArray, celsius: FloatArray) -> FloatArray:
        """Of each place, shape (n,)."""
        strings = self.strings
        count = len(strings.set_n)
        mu = float(unknowns[count]) if self.told_mu else self.mu
        give = float(unknowns[-1]) if self.told_give else self.give
        owner = strings.of_span[span]
        pull = np.exp(unknowns[:count])
        strained = pull[owner] * strings.by_height[span] * np.exp(-mu * strings.turn_rad[span])
        warmer = celsius - strings.strained_c[owner]
        tighter: FloatArray = np.zeros(len(span))
        if warmer.any():
            pairs, which = np.unique(np.stack([owner, warmer]), axis=1, return_inverse=True)
            at = pairs[0].astype(np.int64)
            tighter = self._tighter(at, pairs[1], (pull / strings.at_source)[at], give)[which]
        return np.log(np.maximum(strained + tighter, _LOOSE * strained))

    def _tighter(self, at: IntArray, warmer_k: FloatArray, start_n: FloatArray, give: float) -> FloatArray:
        """How much tighter strings get by a change of temperature, shape (n_pairs,) [N]."""
        strings = self.strings
        rows = strings.supports.rows
        size = rows.last[at] - rows.first[at] + 1
        pair = np.repeat(np.arange(len(at)), size)
        member = np.arange(size.sum()) - np.repeat(np.cumsum(size) - size, size) + rows.first[at][pair]
        supports = Supports(strings.supports.x_m[member], strings.supports.z_m[member], pair)
        wire = strings.wire.of(at)
        length = warmed(wire, unstretched_totals(solve_chain(supports, wire, start_n)), warmer_k)
        found = chain_at_length(supports, wire, length, Give(give * strings.give_m_per_n[at], start_n))
        loose: BoolArray = ~found.solved
        return np.where(loose, (_LOOSE - 1.0) * start_n, found.start_tension_n - start_n)

    def slopes(self, unknowns: FloatArray, span: IntArray, celsius: FloatArray) -> FloatArray:
        """Derivatives of `log_tension` by each unknown, shape (n, unknowns), from differences.

        A place knows its own string's pull only, so that all pulls are moved at once.
        """
        count, places = len(self.strings.set_n), np.arange(len(span))
        found = np.zeros((len(span), len(unknowns)))
        found[places, self.strings.of_span[span]] = self._slope(unknowns, np.arange(count), span, celsius)
        for other in range(count, count + self.told_mu + self.told_give):
            found[:, other] = self._slope(unknowns, np.array([other]), span, celsius)
        return found

    def _slope(self, unknowns: FloatArray, moved: IntArray, span: IntArray, celsius: FloatArray) -> FloatArray:
        """Difference of `log_tension` by a step of some unknowns together, shape (n,)."""
        step: FloatArray = np.zeros(len(unknowns))
        step[moved] = _STEP * (1.0 if len(moved) != 1 else max(1.0, abs(float(unknowns[moved[0]]))))
        ahead, back = (self.log_tension(unknowns + way * step, span, celsius) for way in (1.0, -1.0))
        return np.asarray((ahead - back) / (2.0 * step[moved[0]]))
