"""Posts are what stands proud of a row, thin, and at regular distances; nothing else is one."""

import numpy as np
import pytest
from numpy.typing import NDArray
from wirerun.surface.post_tops import RowProfile, closed, find_posts, strip_top
from wirerun.surface.row_lines import DOUBTFUL

FloatArray = NDArray[np.float64]
STEP_M = 0.05
LENGTH_M = 60.0


def row(
    at_m: FloatArray, *, proud_m: float = 0.5, wide_m: float = 0.06, seed: int = 0, rough_m: float = 0.02
) -> RowProfile:
    """A row of arms 0.4 m high, with blurred peaks at places."""
    rng = np.random.default_rng(seed)
    along = (np.arange(round(LENGTH_M / STEP_M)) + 0.5) * STEP_M
    top = 0.4 + rng.normal(0.0, rough_m, len(along))
    for place in at_m:
        top += proud_m * np.exp(-0.5 * ((along - place) / wide_m) ** 2)
    return RowProfile(STEP_M, top, np.full(len(along), 0.03))


def regular(start: float, span: float = 5.0) -> FloatArray:
    return np.arange(start, LENGTH_M, span)


def test_posts_are_found_where_they_stand() -> None:
    places = [regular(1.0 + 0.7 * number) for number in range(4)]
    found = find_posts([row(at, seed=number) for number, at in enumerate(places)])
    assert found is not None
    assert found.span_m == pytest.approx(5.0, abs=0.02)
    assert found.row.tolist() == [number for number, at in enumerate(places) for _ in at]
    np.testing.assert_allclose(found.station_m, np.concatenate(places), atol=0.03)
    np.testing.assert_allclose(found.aside_m, 0.03, atol=1e-9)
    np.testing.assert_allclose(found.proud_m, 0.5, atol=0.08)
    np.testing.assert_allclose(found.seen_m, 0.9, atol=0.08)
    assert (found.confidence >= 0.85).all()


def test_a_missing_post_is_not_made_up_and_the_others_stay() -> None:
    whole = regular(2.0)
    found = find_posts([row(np.delete(whole, [3, 4, 9]), seed=number) for number in range(3)])
    assert found is not None
    assert len(found.row) == 3 * (len(whole) - 3)


def test_a_faint_post_counts_where_the_others_have_it_and_nowhere_else() -> None:
    faint = row(np.array([27.0, 34.3]), proud_m=0.13, seed=5)
    strong = row(np.setdiff1d(regular(2.0), [27.0]), seed=6)
    both = RowProfile(STEP_M, np.maximum(faint.top_m, strong.top_m), strong.aside_m)
    found = find_posts([both, *(row(regular(3.0), seed=number) for number in range(2))])
    assert found is not None
    mine = found.station_m[found.row == 0]
    assert np.abs(mine - 27.0).min() < 0.1
    assert np.abs(mine - 34.3).min() > 1.0
    at = np.abs(found.station_m - 27.0) + 100.0 * (found.row != 0)
    assert found.confidence[at.argmin()] < found.confidence.max()


def test_a_confidence_is_the_share_that_are_posts() -> None:
    """Neighbours at the usual distance make a post sure; none, or a prouder one beside it, leave it to be looked at."""
    whole = regular(2.0)
    extra = row(np.array([whole[4] + 1.5]), proud_m=0.45, seed=8)  # a cane, 1.5 m from a post
    lone = row(np.array([whole[2]]), seed=9)
    with_extra = row(whole, seed=7)
    with_extra = RowProfile(STEP_M, np.maximum(with_extra.top_m, extra.top_m), with_extra.aside_m)
    found = find_posts([with_extra, lone, row(whole, proud_m=0.35, seed=3)])
    assert found is not None

    def said(number: int, station_m: float) -> float:
        here = np.abs(found.station_m - station_m) + 100.0 * (found.row != number)
        assert here.min() < 0.1
        return float(found.confidence[here.argmin()])

    assert said(0, whole[4]) == said(2, whole[4]) == 0.99
    assert said(2, whole[0]) == 0.96  # the first of its row
    assert said(1, whole[2]) == 0.6 < DOUBTFUL
    assert said(0, whole[4] + 1.5) <= 0.05


@pytest.mark.parametrize("seed", range(5))
def test_what_is_not_regular_is_no_post(seed: int) -> None:
    rng = np.random.default_rng(seed)
    assert find_posts([row(np.sort(rng.uniform(0.0, LENGTH_M, 12)), seed=one) for one in range(4)]) is None


@pytest.mark.parametrize("rough", [0.01, 0.1])
def test_a_row_without_posts_has_none(rough: float) -> None:
    assert find_posts([row(np.zeros(0), rough_m=rough, seed=one) for one in range(6)]) is None


def test_heads_of_vines_are_no_posts() -> None:
    heads = [row(regular(0.5 + 0.1 * one, 1.1), proud_m=0.25, seed=one) for one in range(4)]
    assert find_posts(heads) is None
    posts = [row(regular(2.0 + one, 6.6), proud_m=0.9, seed=one) for one in range(4)]
    both = [
        RowProfile(STEP_M, low.top_m + high.top_m - 0.4, low.aside_m) for low, high in zip(heads, posts, strict=True)
    ]
    found = find_posts(both)
    assert found is not None
    assert found.span_m == pytest.approx(6.6, abs=0.05)
    assert len(found.row) == sum(len(regular(2.0 + one, 6.6)) for one in range(4))


def test_bushes_are_too_wide() -> None:
    assert find_posts([row(regular(1.0 + one), wide_m=0.3, seed=one) for one in range(4)]) is None


def test_nothing_is_known_nothing_is_found() -> None:
    unknown = np.full(200, np.nan)
    assert find_posts([]) is None
    assert find_posts([RowProfile(STEP_M, unknown, np.zeros(200))]) is None


def test_where_the_survey_has_a_gap_there_is_no_post() -> None:
    """0.3 m of each row that nobody saw, midway between two posts."""
    rows = []
    for number in range(3):
        whole = row(regular(2.0), seed=number)
        along = (np.arange(len(whole.top_m)) + 0.5) * STEP_M
        rows.append(whole._replace(top_m=np.where(np.abs(along - 24.5) < 0.15, np.nan, whole.top_m)))
    found = find_posts(rows)
    assert found is not None
    np.testing.assert_allclose(found.station_m, np.tile(regular(2.0), 3), atol=0.03)


def test_the_top_of_a_strip() -> None:
    """By hand: a peak of 1 m at +0.1 m, its flanks alike, over a ridge of 0.4 m; and a section that nobody saw."""
    across = np.array([-0.2, -0.1, 0.0, 0.1, 0.2])
    strip = np.array([[0.0, 0.4, 0.7, 1.0, 0.7], np.full(5, np.nan)])
    top, aside = strip_top(strip, across)
    assert top[0] == 1.0
    assert aside[0] == pytest.approx(0.1)
    assert np.isnan(top[1])
    assert aside[1] == 0.0


def test_gaps_between_the_points_of_a_cloud_are_closed_and_nothing_grows() -> None:
    """A gap of 0.15 m goes, one of 0.3 m stays; a post is as wide and high as it was."""
    step = 0.05
    top = np.full(60, 0.9)
    top[10:13], top[20:26], top[40:42] = 0.0, 0.0, 1.8
    made = closed(top, step)
    expected = top.copy()
    expected[10:13] = 0.9
    np.testing.assert_array_equal(made, expected)
    top[:8] = np.nan
    assert np.isnan(closed(top, step)[:4]).all()
    assert np.isfinite(closed(top, step)[8:]).all()
