"""Cold, hot and lifted, against the equation of the change of state and lengths worked by hand."""

import re
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq
from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import Posts
from wirerun.rules.clip_positions import clip_positions
from wirerun.settings import ClipSettings, PostSettings, StateSettings, WireSettings
from wirerun.stages.wires.end_give import EndGive, end_give
from wirerun.stages.wires.in_summer import note_soft
from wirerun.stages.wires.slack import slack_to_move
from wirerun.stages.wires.strung import string_wires
from wirerun.stages.wires.through_the_year import at_temperature, cold_in_clips, lift
from wirerun.state import State

LOWER = WireSettings(id="lower", kind="foliage", height_m=1.2, lines=2, tension_n=300.0)
FIXED = WireSettings(id="fruiting", kind="fixed", height_m=0.9, tension_n=1000.0)
AREA = np.pi / 4.0 * 0.0025**2
WEIGHT, STIFFNESS = 7850.0 * 9.80665 * AREA, 200e9 * AREA


def strung(posts: Posts, *wires: WireSettings) -> np.ndarray:
    return string_wires(posts, np.zeros((len(posts.near), 3)), wires, 0.3, Findings())[0].cut_m


YEAR = StateSettings()


def ends(posts: Posts, *wires: WireSettings, give_mm_per_kn: float = 0.0) -> EndGive:
    """End posts that give so much; one lower wire unless told."""
    return end_give(posts, wires or (LOWER,), PostSettings(end_give_mm_per_kn=give_mm_per_kn))


def places(
    posts: Posts, *lifts_m: float, wires: tuple[WireSettings, ...] = (LOWER,), out_m: FloatArray | float = 1.9
) -> ClipPositions:
    """Clip positions on posts so high, the last wire being lifted so far."""
    lifted = wires[-1].model_copy(update={"lifts_m": lifts_m})
    tops = np.broadcast_to(out_m, len(posts))
    return clip_positions(tops, ClipSettings(), (*wires[:-1], lifted), posts.row, ~posts.is_end)


@pytest.mark.parametrize(("change_k", "state"), [(-20.0, State.COLD), (25.0, State.HOT)])
def test_level_rows_follow_the_change_of_state_equation(
    stand: Callable[..., Posts], change_k: float, state: State
) -> None:
    """T2^3 + T2^2 (EA w^2 l^2/(24 T1^2) - T1 + EA a dt) = EA w^2 l^2/24: the change of state of any line handbook."""
    posts = stand([0.0] * 11)
    sag = STIFFNESS * WEIGHT**2 * 36.0 / 24.0
    shift = sag / 300.0**2 - 300.0 + STIFFNESS * 12e-6 * change_k
    expected = brentq(lambda t: t**3 + t**2 * shift - sag, 1.0, 2000.0)
    made = at_temperature(state, change_k, posts, strung(posts, LOWER), ends(posts), (LOWER,), Findings())
    assert made.state is state
    assert made.ends.start_n[0, 0] == pytest.approx(expected, rel=5e-4)
    assert made.load_n[0, posts.middle] == pytest.approx(np.full(9, 6.0 * WEIGHT), rel=1e-3)


def test_a_wire_too_long_for_its_posts_is_named(stand: Callable[..., Posts]) -> None:
    posts, notes = stand([0.0] * 3, [0.0] * 3), Findings("B01")
    cut = strung(posts, LOWER) * np.array([[1.3, 1.0]])
    made = at_temperature(State.HOT, 25.0, posts, cut, ends(posts), (LOWER,), notes)
    assert np.isnan(made.load_n[0, 1])
    assert not np.isnan(made.load_n[0, 4])
    assert [note.code for note in notes] == ["slack-wire"]
    assert notes[0].message == "Wire lower hangs loose when hot in 1 row: B01-R001."


def test_a_lift_at_kept_length_stretches_the_wire_by_what_the_way_grows(stand: Callable[..., Posts]) -> None:
    """Up 0.25 m over the first and the last of ten spans: the way grows by 2 (sqrt(6^2 + 0.25^2) - 6) = 10.412 mm.

    Stretched by as much, 60 m of EA 981.7 kN take 10.412e-3/60 * EA = 170.4 N more, less what the spans give of their
    slack, w^2 l^3/(24 T^2) each.
    """
    posts, notes = stand([0.0] * 11), Findings("B01")
    grown = 2.0 * (np.hypot(6.0, 0.25) - 6.0)
    state, lifts = lift(
        posts, strung(posts, LOWER), np.array([[False]]), ends(posts), (LOWER,), YEAR, places(posts, 1.45), notes
    )
    given = 10.0 * WEIGHT**2 * 216.0 / 24.0
    tension = brentq(lambda t: t - 300.0 - STIFFNESS / 60.0 * (grown - given * (300.0**-2 - t**-2)), 300.0, 600.0)
    assert state.ends.start_n[0, 0] == pytest.approx(tension, rel=3e-4)
    (only,) = lifts.positions
    # The first clip bears the turn of the wire: T 0.25/6, and half of each span's weight.
    borne = only.start_n[0] * 0.25 / np.hypot(6.0, 0.25) + 6.0 * WEIGHT
    assert only.first_n[0] == only.last_n[0] == pytest.approx(borne, rel=0.01)
    assert only.greatest_n[0] == only.first_n[0]
    assert only.least_n[0] == pytest.approx(6.0 * WEIGHT, rel=1e-3)
    assert (only.wire, only.height_m) == (0, 1.45)
    assert [note.code for note in notes] == ["lift-load"]
    assert "B01-R001-P002" in notes[0].message or "B01-R001-P010" in notes[0].message


def test_an_adjuster_lets_the_wire_out_to_the_set_tension(stand: Callable[..., Posts]) -> None:
    posts = stand([0.0] * 5, [0.0] * 5)
    state, _ = lift(
        posts,
        strung(posts, LOWER),
        np.array([[True, False]]),
        ends(posts),
        (LOWER,),
        YEAR,
        places(posts, 1.45),
        Findings(),
    )
    assert state.ends.start_n[0, 0] == pytest.approx(300.0, rel=1e-9)
    assert state.ends.start_n[0, 1] > 600.0


def test_of_several_positions_the_state_keeps_the_worst(stand: Callable[..., Posts]) -> None:
    posts = stand([0.0, 0.0, -0.3, 0.0, 0.0])
    cut, no = strung(posts, FIXED, LOWER), np.zeros((2, 1), dtype=bool)
    state, lifts = lift(
        posts,
        cut,
        no,
        ends(posts, FIXED, LOWER),
        (FIXED, LOWER),
        YEAR,
        places(posts, 1.45, 1.7, wires=(FIXED, LOWER)),
        Findings(),
    )
    low, high = lifts.positions
    assert [position.height_m for position in lifts.positions] == [1.45, 1.7]
    assert state.load_n[1, 2] == min(low.least_n[0], high.least_n[0])
    assert lifts.greatest_n[1].max(where=~posts.is_end, initial=0.0) == max(low.greatest_n[0], high.greatest_n[0])
    assert state.ends.far_n[1, 0] == max(low.far_n[0], high.far_n[0])
    assert np.isnan(state.load_n[0]).all()
    assert np.isnan(state.ends.start_n[0]).all()
    assert np.isnan(lifts.greatest_n[0]).all()


def test_rows_of_one_span_have_no_clip_to_load(stand: Callable[..., Posts]) -> None:
    posts, notes = stand([0.0, 0.0]), Findings("B01")
    state, lifts = lift(
        posts, strung(posts, LOWER), np.array([[False]]), ends(posts), (LOWER,), YEAR, places(posts, 1.45), notes
    )
    assert lifts.positions == ()
    assert np.isnan(state.ends.start_n).all()
    assert notes == []


def test_one_short_post_keeps_the_wire_of_its_row_down(stand: Callable[..., Posts]) -> None:
    """A post of 1.6 m in the second row: there the wire is not lifted to 1.7 m, in the first it is."""
    posts, notes = stand([0.0] * 4, [0.0] * 4), Findings("B01")
    out = np.where(np.arange(8) == 5, 1.6, 1.9)
    cut = strung(posts, LOWER)
    state, lifts = lift(
        posts, cut, np.zeros((1, 2), dtype=bool), ends(posts), (LOWER,), YEAR, places(posts, 1.7, out_m=out), notes
    )
    (only,) = lifts.positions
    assert only.row.tolist() == [0]
    assert len(only.start_n) == 1
    assert np.isnan(state.load_n[0, 4:]).all()
    assert not np.isnan(state.load_n[0, 1:3]).any()
    assert np.isnan(state.ends.start_n[0]).tolist() == [False, True]


def test_ends_that_move_along_keep_the_wire_as_it_was(stand: Callable[..., Posts]) -> None:
    """Up as a whole, the way is the same: 300 N as before, and every clip bears the weight of its span alone."""
    posts, moving = stand([0.0] * 11), LOWER.model_copy(update={"ends_move": True})
    notes = Findings("B01")
    cut, no = strung(posts, moving), np.array([[False]])
    state, lifts = lift(posts, cut, no, ends(posts), (moving,), YEAR, places(posts, 1.45, wires=(moving,)), notes)
    assert state.ends.start_n[0, 0] == pytest.approx(300.0, rel=1e-9)
    assert state.load_n[0, posts.middle] == pytest.approx(np.full(9, 6.0 * WEIGHT), rel=1e-3)
    assert [(each.use, each.height_m) for each in lifts.positions] == [("lifted", 1.45)]
    assert notes == []


def test_a_wire_parked_for_winter_has_the_cold_in_it(stand: Callable[..., Posts]) -> None:
    """Down from 1.2 to 0.95 m is as far as up to 1.45 m, and on top comes EA a dt = 981.7 kN x 12e-6 x 20 = 236 N."""
    posts = stand([0.0] * 11)
    cut, no = strung(posts, LOWER), np.array([[False]])
    up, _ = lift(posts, cut, no, ends(posts), (LOWER,), YEAR, places(posts, 1.45), Findings())
    clips = ClipSettings(winter_m=0.95)
    parked = clip_positions(
        np.full(11, 1.9), clips, (LOWER.model_copy(update={"lifts_m": ()}),), posts.row, ~posts.is_end
    )
    _, lifts = lift(posts, cut, no, ends(posts), (LOWER,), YEAR, parked, Findings())
    (only,) = lifts.positions
    assert (only.use, only.height_m) == ("winter", 0.95)
    assert only.start_n[0] == pytest.approx(up.ends.start_n[0, 0] + STIFFNESS * 12e-6 * 20.0, rel=0.01)
    assert only.first_n[0] < 0.0  # pulled up, where a lifted wire bears down


@pytest.mark.parametrize(("limit_n", "hard"), [(600.0, True), (750.0, False)])
def test_a_short_row_gets_slack_where_no_hand_lifts_it(
    stand: Callable[..., Posts],
    limit_n: float,
    hard: bool,  # noqa: FBT001 - a case
) -> None:
    """24 m, up 0.25 m: the way grows by 10.41 mm, which is 426 N more; let out by as much the set tension is back."""
    posts = stand([0.0] * 5, [0.0] * 11)
    year = StateSettings(lift_limit_n=limit_n)
    slack = slack_to_move(posts, strung(posts, LOWER), ends(posts), (LOWER,), year, places(posts, 1.45))
    grown = 2000.0 * (np.hypot(6.0, 0.25) - 6.0)
    assert slack.lifted_n[0] == pytest.approx(
        [300.0 + STIFFNESS * grown / 24e3, 300.0 + STIFFNESS * grown / 60e3], rel=0.01
    )
    # The wire that is let out is strung at 300 N again: its stretch stays.
    assert slack.lift_mm[0] == pytest.approx([grown if hard else 0.0, 0.0], rel=1e-3)
    assert np.isnan(slack.parked_n).all()
    assert np.isnan(slack.park_mm).all()


def test_a_wire_strung_tighter_than_a_hand_moves_is_asked_for_no_less(stand: Callable[..., Posts]) -> None:
    posts, taut = stand([0.0] * 11), LOWER.model_copy(update={"tension_n": 700.0, "ends_move": True})
    slack = slack_to_move(posts, strung(posts, taut), ends(posts), (taut,), YEAR, places(posts, 1.45, wires=(taut,)))
    assert slack.lifted_n[0, 0] == pytest.approx(700.0)
    assert slack.lift_mm[0, 0] == 0.0


def test_a_wire_is_parked_at_the_temperature_of_winter(stand: Callable[..., Posts]) -> None:
    """Down 0.6 m over 24 m: 59.7 mm more of way. It is done at 5 C, where the wire has 118 N more in it."""
    posts = stand([0.0] * 5)
    wire = LOWER.model_copy(update={"lifts_m": ()})
    parked = clip_positions(np.full(5, 1.9), ClipSettings(winter_m=0.6), (wire,), posts.row, ~posts.is_end)
    found = [
        slack_to_move(posts, strung(posts, wire), ends(posts), (wire,), StateSettings(winter_c=celsius), parked)
        for celsius in (5.0, 15.0)
    ]
    assert found[0].parked_n[0, 0] - found[1].parked_n[0, 0] == pytest.approx(STIFFNESS * 12e-6 * 10.0, rel=0.01)
    grown = 2000.0 * (np.hypot(6.0, 0.6) - 6.0)
    assert found[1].parked_n[0, 0] == pytest.approx(300.0 + STIFFNESS * grown / 24e3, rel=0.01)
    assert [each.park_mm[0, 0] for each in found] == pytest.approx([grown] * 2, rel=2e-3)
    assert np.isnan(found[0].lift_mm).all()


def taut(celsius: float, lines: list[tuple[int, float, float]], length_m: float, give: float) -> list[float]:
    """Tensions of the wires of a level row at another temperature, by brentq on how far both ends come in together.

    Each wire (lines, EA, strung tension) over spans of 6 m: T - T0 = -EA (a dt + (slack(T) - slack(T0) + x)/L), with
    slack(T) = n w^2 l^3/(24 T^2) that its spans give, w = EA * 7850 g/200e9; and x = 2 c sum(lines (T - T0)).
    """

    def slack(stiffness: float, tension: float) -> float:
        weight = stiffness * 7850.0 * 9.80665 / 200e9
        return length_m / 6.0 * weight**2 * 216.0 / 24.0 * tension**-2

    def tensions(moved_m: float) -> list[float]:
        return [
            brentq(
                lambda t, ea=ea, old=old: (
                    t - old + ea * (12e-6 * (celsius - 15.0) + (moved_m + slack(ea, old) - slack(ea, t)) / length_m)
                ),
                0.5,
                9000.0,
            )
            for _, ea, old in lines
        ]

    def miss(moved_m: float) -> float:
        pull = sum(n * (t - old) for (n, _, old), t in zip(lines, tensions(moved_m), strict=True))
        return 2.0 * give * pull - moved_m

    return tensions(brentq(miss, -0.03, 0.03, xtol=1e-14))


@pytest.mark.parametrize("give_mm_per_kn", [1.0, 5.0, 30.0])
@pytest.mark.parametrize("celsius", [-5.0, 5.0, 25.0])
def test_end_posts_that_give_soften_the_change_of_state(
    stand: Callable[..., Posts], give_mm_per_kn: float, celsius: float
) -> None:
    """All wires pull the same two posts: a wire of 3.15 mm, and two lines of 2.5 mm."""
    posts, wires = stand([0.0] * 11), (FIXED.model_copy(update={"diameter_mm": 3.15}), LOWER)
    give = ends(posts, *wires, give_mm_per_kn=give_mm_per_kn)
    state = State.COLD if celsius < 15.0 else State.HOT
    made = at_temperature(state, celsius - 15.0, posts, strung(posts, *wires), give, wires, Findings())
    stiffer = STIFFNESS * (3.15 / 2.5) ** 2
    wanted = taut(celsius, [(1, stiffer, 1000.0), (2, STIFFNESS, 300.0)], 60.0, give_mm_per_kn * 1e-6)
    # The spring of `give_together` leaves out that sag softens the wires unlike.
    assert made.ends.start_n[:, 0] == pytest.approx(wanted, abs=0.02 * np.abs(np.array(wanted) - [1000.0, 300.0]).max())


def test_ten_millimetres_of_give_take_a_third_of_the_cold_tension(stand: Callable[..., Posts]) -> None:
    """60 m, 2.5 mm, 20 K colder: 534 N with ends that stand. EA (a dt - 10 mm/60 m) is 72 N more than 300, not 236."""
    posts, one = stand([0.0] * 11), LOWER.model_copy(update={"lines": 1})
    stands = at_temperature(State.COLD, -20.0, posts, strung(posts, one), ends(posts, one), (one,), Findings())
    assert stands.ends.start_n[0, 0] == pytest.approx(534.0, abs=1.0)
    # Both ends come in by 5 mm for the 71 N that it pulls more then.
    soft = ends(posts, one, give_mm_per_kn=5.0 / 0.0710)
    gives = at_temperature(State.COLD, -20.0, posts, strung(posts, one), soft, (one,), Findings())
    assert gives.ends.start_n[0, 0] == pytest.approx(371.0, abs=1.5)


def test_a_wire_that_is_lifted_alone_is_eased_by_the_posts_and_held_by_the_others(stand: Callable[..., Posts]) -> None:
    """Up 0.25 m in 60 m; both ends come in by x = 2 c (2 dT - 1000 mm wire k x), taut; the way grows by 10.41 mm."""
    posts, fixed = stand([0.0] * 11), FIXED.model_copy(update={"diameter_mm": 3.15})
    wires, both = (fixed, LOWER), 2.0 * 20e-6
    give = ends(posts, *wires, give_mm_per_kn=20.0)
    no = np.zeros((2, 1), dtype=bool)
    _, lifts = lift(posts, strung(posts, *wires), no, give, wires, YEAR, places(posts, 1.45, wires=wires), Findings())
    grown = 2.0 * (np.hypot(6.0, 0.25) - 6.0)
    stiffer = STIFFNESS * (3.15 / 2.5) ** 2

    def miss(more: float) -> float:
        moved = brentq(lambda x: both * (2.0 * more - stiffer / 60.0 * x) - x, -1.0, 1.0)
        return float(more - STIFFNESS / 60.0 * (grown - moved))

    assert lifts.positions[0].start_n[0] == pytest.approx(300.0 + brentq(miss, 0.0, 500.0), rel=0.01)


def test_a_wire_too_slack_in_the_heat_is_told_with_what_would_keep_it(stand: Callable[..., Posts]) -> None:
    """Level row, 15 to 40 C: from T at 15 C to 100 N, T - 100 = EA (25 a - w2 l2/24 (1/100^2 - 1/T^2))."""
    posts, notes = stand([0.0] * 11), Findings("B01")
    cut = strung(posts, LOWER)
    hot = at_temperature(State.HOT, 25.0, posts, cut, ends(posts), (LOWER,), Findings())
    note_soft(posts, cut, hot, ends(posts), (LOWER,), YEAR, notes)
    sag = (6.0 * WEIGHT) ** 2 / 24.0
    needed = brentq(lambda t: t - 100.0 - STIFFNESS * (25.0 * 12e-6 - sag * (100.0**-2 - t**-2)), 100.0, 900.0)
    warm = brentq(lambda c: 200.0 - STIFFNESS * ((40.0 - c) * 12e-6 - sag * (100.0**-2 - 300.0**-2)), 0.0, 40.0)
    (note,) = notes
    assert note.code == "soft-in-heat"
    assert f"down to {hot.ends.start_n[0, 0]:.0f} N" in note.message
    said = re.search(r"strung at (\d+) N .* at the set 300 N on a day of (\d+) ", note.message)
    assert said is not None
    assert needed - 0.5 < int(said[1]) < needed + 5.5
    assert warm - 0.05 < int(said[2]) < warm + 1.05
    # What it says is so: strung tighter, or on a warmer day, it has 100 N on the hottest.
    tighter = LOWER.model_copy(update={"tension_n": float(needed)})
    for wire, day in ((tighter, 15.0), (LOWER, warm)):
        then = at_temperature(State.HOT, 40.0 - day, posts, strung(posts, wire), ends(posts, wire), (wire,), Findings())
        assert then.ends.start_n[0, 0] == pytest.approx(100.0, abs=0.5)
    silent = Findings("B01")
    note_soft(posts, cut, hot, ends(posts), (LOWER,), StateSettings(hot_least_n=0.0), silent)
    assert silent == []


def test_foliage_wires_are_down_in_the_hard_frost(stand: Callable[..., Posts]) -> None:
    """At -5 C a fixed wire has 20 K in it; the foliage wire in its clips 15 K, but its knot may be asked for 20."""
    posts, wires = stand([0.0, 0.0, -0.3, 0.0, 0.0]), (FIXED, LOWER)
    year = StateSettings()
    frost, up = (
        at_temperature(State.COLD, celsius - 15.0, posts, strung(posts, *wires), ends(posts, *wires), wires, Findings())
        for celsius in (year.cold_c, year.coldest_c("foliage"))
    )
    made = cold_in_clips(frost, up, wires)
    assert (year.coldest_c("fixed"), year.coldest_c("foliage")) == (-5.0, 0.0)
    assert made.load_n[0, 2] == frost.load_n[0, 2]
    assert made.tension_n[1, 2] - 300.0 == pytest.approx(STIFFNESS * 12e-6 * 15.0, rel=0.02)
    assert made.load_n[1, 2] == up.load_n[1, 2] > frost.load_n[1, 2]
    assert made.ends.start_n[1, 0] - 300.0 == pytest.approx(STIFFNESS * 12e-6 * 20.0, rel=0.02)


def test_the_cold_with_wires_up_keeps_between_the_frost_and_the_day_of_stringing() -> None:
    assert StateSettings(cold_c=3.0).coldest_c("foliage") == 3.0
    assert StateSettings(stringing_c=-2.0).coldest_c("foliage") == -2.0
    assert StateSettings(cold_up_c=-5.0).coldest_c("foliage") == -5.0
