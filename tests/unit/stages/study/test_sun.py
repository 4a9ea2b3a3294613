"""Sun on the rows: the sun's places against textbook values, and walls in the sun that can be worked out by hand."""

import numpy as np
import pytest
from wirerun.errors import SettingError
from wirerun.stages.study.sun import Sky, sky_over, sun_hours


def test_the_sun_at_solstice_and_equinox() -> None:
    """At noon the sun stands 90 - latitude + declination high; the declination at solstice is 23.44 degrees.

    The ecliptic leans by 84381.448 seconds of arc (pvlib.spa.mean_ecliptic_obliquity), 23.44 degrees; in 2026 the days
    are 20 March, 21 June and 21 December, UTC (universaltimedate.com). Refraction is 0.035 degrees at most here, by
    pvlib.spa at 25 degrees.
    """
    pytest.importorskip("pvlib")
    for day, declination in (("2026-06-21", 23.44), ("2026-12-21", -23.44), ("2026-03-20", 0.0)):
        sky = sky_over(-7.6, 41.2, [day])
        assert sky.height_deg.max() == pytest.approx(90.0 - 41.2 + declination, abs=0.3)
        noon = sky.azimuth_deg[sky.height_deg.argmax()]
        assert noon == pytest.approx(180.0, abs=2.0)
    # At the equinox the day has twelve hours and, by half a degree of refraction where the sun rises by 11 degrees an
    # hour, six minutes; it is looked at every five.
    assert len(sky.azimuth_deg) * sky.hours == pytest.approx(12.1, abs=0.1)


def test_a_day_on_which_the_sun_does_not_set_has_24_hours_however_many_days_are_asked_for() -> None:
    pytest.importorskip("pvlib")
    for days in (["2026-06-21"], ["2026-06-20", "2026-06-21"]):
        sky = sky_over(15.0, 78.0, days)
        assert len(sky.azimuth_deg) * sky.hours == pytest.approx(24.0)


@pytest.mark.parametrize("lon_deg", [-120.0, 0.0, 120.0])
def test_a_day_is_one_by_the_sun_wherever_it_is(lon_deg: float) -> None:
    """From sunrise to sunset it goes once from east to west."""
    pytest.importorskip("pvlib")
    sky = sky_over(lon_deg, 45.0, ["2026-06-21"])
    assert (np.diff(sky.azimuth_deg) > 0.0).all()


def test_a_day_that_is_none() -> None:
    pytest.importorskip("pvlib")
    with pytest.raises(SettingError, match=r"study\.sun_dates: there is no such day"):
        sky_over(0.0, 45.0, ["2026-02-30"])


def test_rows_that_run_at_the_sun_have_it_in_the_alley_and_on_no_side() -> None:
    sky = Sky(np.array([90.0, 90.0]), np.array([10.0, 40.0]), 0.5)
    floor, side = sun_hours(sky, 90.0, 2.4, 1.9, 0.4)
    assert (floor, side) == (1.0, 0.0)


def test_the_shadow_of_a_wall_square_to_the_sun() -> None:
    # Free 2 m, canopy 2 m: its shadow ends in the middle of the alley at tan p = 2, at 63.4 degrees.
    sky = Sky(np.array([90.0, 90.0, 270.0]), np.array([63.0, 64.0, 45.0]), 1.0)
    floor, side = sun_hours(sky, 0.0, 2.4, 2.0, 0.4)
    assert floor == 1.0
    # From the west at 45 degrees the whole side is lit; from the east both hours are.
    assert side == pytest.approx(1.0)
    low = Sky(np.array([90.0, 270.0]), np.degrees(np.arctan([0.5, 0.25])), 1.0)
    assert sun_hours(low, 0.0, 2.4, 2.0, 0.4)[1] == pytest.approx(0.25)


@pytest.mark.parametrize("bearing_deg", [0.0, 30.0, 135.0, 300.0])
@pytest.mark.parametrize("right_h", [1, 3])
@pytest.mark.parametrize(("height_deg", "lit", "alley"), [(70.0, 1.0, 1.0), (40.0, 0.852, 0.0)])
def test_the_side_that_has_less_sun_counts_and_no_side_is_more_than_lit(
    bearing_deg: float, right_h: int, height_deg: float, lit: float, alley: float
) -> None:
    """The left has two hours, the right more or less, from 80 and 260 degrees off rows of any bearing.

    tan(40) / sin(80) = 0.852 of a side is lit, 2 m high and 2 m from the next; of tan(70) / sin(80) = 2.79 all is.
    """
    off = np.array([80.0] * right_h + [260.0] * 2)
    sky = Sky((bearing_deg + off) % 360.0, np.full(right_h + 2, height_deg), 1.0)
    floor, side = sun_hours(sky, bearing_deg, 2.4, 2.0, 0.4)
    assert (floor, side) == pytest.approx((alley * (right_h + 2.0), lit * min(right_h, 2.0)), abs=1e-3)


def test_between_close_rows_less_of_a_side_is_lit_and_between_none_nothing() -> None:
    """Free 0.5 m at 45 degrees: the upper half metre of 2 m. Canopies as wide as the rows are apart: in the dark."""
    sky = Sky(np.array([90.0, 270.0]), np.array([45.0, 45.0]), 1.0)
    assert sun_hours(sky, 0.0, 0.9, 2.0, 0.4) == pytest.approx((0.0, 0.25))
    assert sun_hours(sky, 0.0, 0.9, 2.0, 1.2) == (0.0, 0.0)


def test_at_the_equinox_rows_to_the_north_have_both_sides_alike() -> None:
    pytest.importorskip("pvlib")
    sky = sky_over(10.0, 45.0, ["2026-03-20"])
    _, north = sun_hours(sky, 0.0, 2.4, 1.9, 0.5)
    _, east = sun_hours(sky, 90.0, 2.4, 1.9, 0.5)
    assert north > 3.0
    assert east < 0.5  # the sun stands south all day
