"""A span pushed sideways: the push and the give, with the stretch shared by more or less wire."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from wirerun.errors import MechanicsError
from wirerun.mechanics.gauge import mid_span_deflection, pushed_tension, side_force_for
from wirerun.mechanics.wire import axial_stiffness

EA = float(axial_stiffness(2.5))


@pytest.mark.parametrize(
    ("shared_m", "force_n", "give_m"),
    [(np.inf, 9.9986, 0.050007), (100.0, 10.2713, 0.048743), (6.0, 14.5442, 0.039118)],
)
def test_the_figures_of_the_docstrings(shared_m: float, force_n: float, give_m: float) -> None:
    assert side_force_for(6.0, 300.0, 0.05, EA, shared_m) == pytest.approx(force_n, abs=1e-4)
    assert mid_span_deflection(6.0, 300.0, 10.0, EA, shared_m) == pytest.approx(give_m, abs=1e-6)


@pytest.mark.parametrize("shared_m", [6.0, 24.0, 100.0])
@pytest.mark.parametrize("push_n", [1.0, 10.0, 200.0])
def test_the_give_is_that_of_least_energy(shared_m: float, push_n: float) -> None:
    # Energy of the stretched wire, EA/2 strain^2 on its unstretched length, less the work of the push. It
    # knows nothing of angles and balance.
    unstretched = shared_m / (1.0 + 300.0 / EA)

    def energy(give: float) -> float:
        longer = 2.0 * (np.hypot(3.0, give) - 3.0)
        strain = (shared_m + longer) / unstretched - 1.0
        return float(0.5 * EA * unstretched * strain**2 - push_n * give)

    best = minimize_scalar(energy, bounds=(0.0, 3.0), method="bounded", options={"xatol": 1e-10})
    assert mid_span_deflection(6.0, 300.0, push_n, EA, shared_m) == pytest.approx(best.x, rel=1e-4)


@given(
    span=st.floats(0.5, 20.0),
    tension=st.floats(0.5, 5000.0),
    slope=st.floats(1e-8, 1.0),
    share=st.one_of(st.just(np.inf), st.floats(1.0, 1e5)),
)
def test_push_and_give_are_inverse(span: float, tension: float, slope: float, share: float) -> None:
    force = side_force_for(span, tension, 0.5 * slope * span, EA, share * span)
    assert mid_span_deflection(span, tension, force, EA, share * span) == pytest.approx(0.5 * slope * span, rel=1e-9)


@pytest.mark.parametrize(("shared_m", "tension_n"), [(np.inf, 300.0), (24.0, 450.0), (6.0, 900.0)])
def test_a_span_pushed_out_far_is_longer_by_its_two_slopes(shared_m: float, tension_n: float) -> None:
    """Pushed out by 4 m, two halves of 3 m are 5 m each: 4 m more, of 24 m a sixth, of 6 m two thirds.

    A soft line of EA 600 N at 300 N: of each metre that it is long, one more is worth EA + T, 900 N.
    """
    assert pushed_tension(6.0, 300.0, 4.0, 600.0, shared_m) == pytest.approx(tension_n, rel=1e-12)


def test_small_pushes_follow_the_rule() -> None:
    give = mid_span_deflection(6.0, 300.0, 1.0, EA)
    assert give == pytest.approx(1.0 * 6.0 / (4.0 * 300.0), rel=1e-5)
    assert give > 1.0 * 6.0 / (4.0 * 300.0)


def test_more_wire_to_share_gives_more() -> None:
    gives = mid_span_deflection(6.0, 300.0, 10.0, EA, np.array([6.0, 12.0, 60.0, 600.0, np.inf]))
    assert (np.diff(gives) > 0.0).all()
    endless = mid_span_deflection(6.0, 300.0, 10.0, EA)
    assert mid_span_deflection(6.0, 300.0, 10.0, EA, 1e9) == pytest.approx(endless, rel=1e-6)


def test_no_push_no_give() -> None:
    assert mid_span_deflection(6.0, 300.0, 0.0, EA, 6.0) == 0.0
    assert side_force_for(6.0, 300.0, 0.0, EA) == 0.0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((6.0, 0.0, 10.0, EA), "tension_n must be above 0"),
        ((6.0, 300.0, -1.0, EA), "side_force_n must be 0 or more"),
        ((6.0, 300.0, 10.0, np.inf), "axial_stiffness_n must be above 0 and finite"),
        ((6.0, 300.0, 10.0, EA, 5.0), "shared_m must be at least the span, but is 5 m for a span of 6 m"),
        ((6.0, 300.0, 10.0, EA, np.nan), "shared_m must be above 0"),
        ((6.0, 300.0, np.array([10.0, 600.0]), EA), "side_force_n of 600 at index 1 is more than"),
    ],
)
def test_refusals(arguments: tuple[float, ...], message: str) -> None:
    with pytest.raises(MechanicsError, match=message):
        mid_span_deflection(*arguments)


def test_a_negative_deflection_is_refused() -> None:
    with pytest.raises(MechanicsError, match="deflection_m must be 0 or more"):
        side_force_for(6.0, 300.0, -0.1, EA)
