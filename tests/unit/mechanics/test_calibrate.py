"""Friction and give from readings: what is known is found again, as surely as is said; and which reading helps most."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest
from wirerun.arrays import FloatArray
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
from wirerun.mechanics.chain import solve_chain, unstretched_totals
from wirerun.mechanics.friction import tension_with_friction
from wirerun.mechanics.give import Give, give_together
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire

POSTS, SPANS = 28, 27
STRAINED_C = 15.0
SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
ERROR = 0.03


class Scene(NamedTuple):
    """Strings, what is true of them, and the tension in each span at each temperature, shape (temperatures, spans)."""

    strings: Strings
    celsius: tuple[float, ...]
    true_n: FloatArray

    def readings(self, seed: int | None, shares: tuple[float, ...] = SHARES) -> Readings:
        """Read all strings at the same shares of their length, with errors of a seed, or without any."""
        places = np.array([round(share * (SPANS - 1)) for share in shares])
        span = np.concatenate([SPANS * string + places for string in range(len(self.strings.set_n))])
        noise = np.zeros((len(self.celsius), len(span)))
        if seed is not None:
            noise = np.random.default_rng(seed).normal(size=noise.shape)
        pulls = self.true_n[:, span] * (1.0 + ERROR * noise)
        return Readings(np.tile(span, len(self.celsius)), pulls.ravel(), np.repeat(self.celsius, len(span)))


def scene(
    *,
    strings: int = 3,
    mu: float = 0.31,
    give: float = 12.0,
    celsius: tuple[float, ...] = (15.0, 0.0),
    far: bool = False,
) -> Scene:
    """Rows over a waving slope, strung near 300 N; friction by the walk along the row, not by the fit."""
    shape = np.random.default_rng(7)
    x = np.tile(6.0 * np.arange(POSTS), strings)
    z = np.concatenate([0.06 * 6.0 * np.arange(POSTS) + 0.12 * shape.normal(size=POSTS) for _ in range(strings)])
    supports = Supports(x, z, np.repeat(np.arange(strings), POSTS))
    wire = Wire.from_diameter(2.5).per_row(supports.rows)
    stiffness = np.full(2, 981_748.0)
    per_unit = np.full(strings, float(give_together(1e-6, np.array([2.0, 2.0]), stiffness)[0]))
    source = np.full(strings, FROM_FAR if far else FROM_START)
    made = Strings(
        supports, wire, np.zeros(len(x)), np.full(strings, 300.0), np.full(strings, STRAINED_C), source, per_unit
    )
    pull = 300.0 * (1.0 + 0.1 * shape.normal(size=strings))
    chain = solve_chain(supports, wire, pull)
    clips = tension_with_friction(chain, mu, from_far_end=far)
    strained = 0.5 * (clips.far_n[chain.span_from] + clips.near_n[chain.span_from + 1])
    length = unstretched_totals(chain)
    tighter = [
        chain_at_length(
            supports, wire, warmed(wire, length, each - STRAINED_C), Give(give * per_unit, pull)
        ).start_tension_n
        - pull
        for each in celsius
    ]
    return Scene(made, celsius, np.stack([strained + each[chain.rows.of_span] for each in tighter]))


def fitted(scene: Scene, seed: int | None = None) -> Fit:
    return fit_readings(scene.strings, scene.readings(seed), ERROR, 0.2, 0.0)


@pytest.mark.parametrize("far", [False, True], ids=["from the start", "from the far end"])
def test_without_errors_the_truth_is_found(*, far: bool) -> None:
    fit = fitted(scene(far=far))
    # The turns are those of the wire at its set tension, and friction's own loss turns it a little more.
    assert fit.mu == pytest.approx(0.31, abs=0.004)
    assert fit.give == pytest.approx(12.0, abs=0.1)
    assert fit.scatter < 0.1


def test_the_truth_lies_within_what_is_stated_as_often_as_it_should() -> None:
    one = scene()
    fits = [fitted(one, seed) for seed in range(40)]
    off = np.array([[(fit.mu - 0.31) / fit.mu_sd, (fit.give - 12.0) / fit.give_sd] for fit in fits])
    # Of 40, 38 within two standard deviations are expected; fewer than 34 come of one plan in 200.
    assert ((np.abs(off) < 2.0).sum(axis=0) >= 34).all()
    # Nor is too much claimed to be unknown: the scatter of what is found is what is stated.
    assert off.std(axis=0) == pytest.approx([1.0, 1.0], abs=0.3)


def test_strained_from_both_ends_the_wire_has_turned_least_from_the_nearer() -> None:
    one = scene().strings
    by_source = {
        source: replace(one, source=np.full(len(one.set_n), source)).turn_rad
        for source in (FROM_START, FROM_FAR, FROM_BOTH)
    }
    nearer = np.minimum(by_source[FROM_START], by_source[FROM_FAR])
    assert by_source[FROM_BOTH].tolist() == nearer.tolist()
    assert (nearer < by_source[FROM_FAR]).any()
    assert (nearer < by_source[FROM_START]).any()


def test_a_single_reading_tells_the_pull_and_not_how_far_readings_scatter() -> None:
    one = scene(strings=1, celsius=(15.0,))
    fit = fit_readings(one.strings, one.readings(None, (0.0,)), ERROR, 0.2, 0.0)
    assert np.isnan([fit.scatter, fit.mu, fit.give]).all()
    # The pull at the start is read in the first span, where a metre of rise is as many newtons as one weighs.
    assert fit.tension_n == pytest.approx(one.true_n[0, :1], rel=0.01)
    assert fit.tension_sd == pytest.approx(ERROR * fit.tension_n, rel=1e-6)


def test_what_nothing_tells_is_not_made_up() -> None:
    warm = fitted(scene(celsius=(15.0,)), 1)
    assert np.isnan(warm.give)
    assert warm.mu_sd > 0.0
    one = scene()
    at_one_place = fit_readings(one.strings, one.readings(1, (0.5,)), ERROR, 0.2, 0.0)
    assert np.isnan(at_one_place.mu)
    assert at_one_place.give == pytest.approx(12.0, abs=4.0 * at_one_place.give_sd)


def test_readings_that_scatter_more_make_it_less_sure() -> None:
    one = scene()
    calm, rough = (fit_readings(one.strings, one.readings(3), error, 0.2, 0.0) for error in (ERROR, ERROR / 3.0))
    assert rough.scatter > 2.0
    assert rough.mu_sd == pytest.approx(calm.mu_sd * max(1.0, calm.scatter) ** -1 * rough.scatter / 3.0, rel=0.01)


def test_one_reading_more_helps_as_much_as_is_said() -> None:
    """Said by the covariance; done by fitting anew with that reading among the others, where it is expected."""
    one = scene()
    readings = one.readings(5)
    fit = fit_readings(one.strings, readings, ERROR, 0.2, 0.0)
    assert fit.scatter < 1.0  # else the scatter of the larger set would come in
    places, celsius = np.array([0, 26, 40, 80]), np.array([15.0, 15.0, 0.0, -10.0])
    mu_sd, give_sd = sd_with_one_more(fit, places, celsius)
    for at in range(len(places)):
        expected = np.exp(fit.model.log_tension(fit.unknowns, places[at : at + 1], celsius[at : at + 1]))
        more = Readings(
            np.append(readings.span, places[at]),
            np.append(readings.tension_n, expected),
            np.append(readings.celsius, celsius[at]),
        )
        anew = fit_readings(one.strings, more, ERROR, 0.2, 0.0)
        assert (anew.mu_sd, anew.give_sd) == pytest.approx((mu_sd[at], give_sd[at]), rel=2e-3)
    assert (mu_sd < fit.mu_sd).all()


def test_a_new_string_read_at_both_ends_helps_as_much_as_is_said() -> None:
    one = scene(strings=2, celsius=(15.0,))
    first = Scene(one.strings, one.celsius, one.true_n).readings(None)
    only = first.span < SPANS
    ends = np.array([SPANS, 2 * SPANS - 1])
    at_first = Readings(first.span[only], first.tension_n[only], first.celsius[only])
    # The second string needs a reading to be there at all; one tells nothing of friction.
    alone = Readings(
        np.append(at_first.span, ends[0]),
        np.append(at_first.tension_n, one.true_n[0, ends[0]]),
        np.append(at_first.celsius, 15.0),
    )
    both = Readings(
        np.append(at_first.span, ends),
        np.append(at_first.tension_n, one.true_n[0, ends]),
        np.append(at_first.celsius, [15.0, 15.0]),
    )
    before, after = (fit_readings(one.strings, each, ERROR, 0.2, 0.0) for each in (alone, both))
    turn = one.strings.turn_rad[ends[1]]
    assert after.mu_sd == pytest.approx(float(mu_sd_with_new_string(before.mu_sd, ERROR, np.array(turn))), rel=0.01)
