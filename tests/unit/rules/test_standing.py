"""What stands already: which posts, and how many of the clips on them."""

import numpy as np
import pytest
from wirerun.errors import ModelError, SettingError
from wirerun.model.standing import Standing
from wirerun.rules.clip_positions import clip_positions
from wirerun.rules.standing import standing_posts, what_stands
from wirerun.settings import Config, StandingSettings

from tests.unit.stages.conftest import stand_on


def config(**standing: object) -> Config:
    wires = [
        {"id": "fruiting", "kind": "fixed", "height_m": 0.9},
        {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2},
        {"id": "upper", "kind": "foliage", "height_m": 1.45, "lines": 2},
    ]
    return Config.model_validate(
        {
            "name": "old",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": wires,
            "standing": {"posts": True, **standing},
        }
    )


def stands(**standing: object) -> Standing:
    """Return what stands of a row of four posts of 1.9 m: at 0.9, at 1.2 and 1.45, at 1.45 and 1.70 m."""
    posts, settings = stand_on([0.0, 0.0, 0.0, 0.0]), config(**standing)
    places = clip_positions(np.full(4, 1.9), settings.clips, settings.wires, posts.row, ~posts.is_end)
    lines = np.array([1, 2, 2])
    pieces = np.where(posts.is_end, 0, places.pieces(lines))
    assert pieces.tolist() == [[0, 1, 1, 0], [0, 2, 2, 0], [0, 4, 4, 0]]  # lower is lent the upper's at 1.45 m
    return what_stands(np.array([True, True, False, True]), places, pieces, settings)


def test_a_wire_that_hangs_hangs_in_fixings_but_not_on_a_post_that_is_new() -> None:
    made = stands(wires=["fruiting"])
    assert made.wires.tolist() == [True, False, False]
    assert made.pieces.tolist() == [[0, 1, 0, 0], [0, 0, 0, 0], [0, 0, 0, 0]]


@pytest.mark.parametrize(
    ("standing", "pieces"),
    [
        ({"fixings": True}, [1, 2, 4]),
        ({"fixings": ["upper"]}, [0, 0, 4]),
        ({"fixings": ["lower", "upper"], "fixing_heights_m": [1.2, 1.45]}, [0, 2, 2]),
        ({"fixings": ["lower", "upper"], "fixing_heights_m": [1.22, 1.715]}, [0, 2, 2]),  # within 2 cm
        ({"fixings": ["lower", "upper"], "fixing_heights_m": [1.23, 1.0]}, [0, 0, 0]),
        ({}, [0, 0, 0]),
    ],
)
def test_fixings_stand_as_told_and_where_told(standing: dict[str, object], pieces: list[int]) -> None:
    assert stands(**standing).pieces[:, 1].tolist() == pieces


def test_posts_stand_all_none_or_by_their_ids() -> None:
    posts = stand_on([0.0, 0.0, 0.0], [0.0, 0.0])
    assert standing_posts(posts, None, StandingSettings(posts=True)).all()
    assert not standing_posts(posts, None, StandingSettings()).any()
    some = StandingSettings(posts=("B01-R001-P003", "B01-R002-P001", "B02-R001-P001"))
    assert standing_posts(posts, None, some).tolist() == [False, False, True, True, False]
    surveyed = np.array([True, False, False, True, True])
    assert standing_posts(posts, surveyed, StandingSettings(posts="state=stands")).tolist() == surveyed.tolist()


def test_a_post_of_the_block_that_the_plan_does_not_have_is_refused_with_the_nearest() -> None:
    with pytest.raises(SettingError, match='the plan has no post "B01-R001-P009"; did you mean B01-R001-P00'):
        standing_posts(stand_on([0.0, 0.0]), None, StandingSettings(posts=("B01-R001-P009",)))


def test_a_fixing_cannot_stand_on_a_post_that_does_not() -> None:
    with pytest.raises(ModelError, match="on posts that do not stand"):
        Standing(np.array([False]), np.array([False]), np.array([[1]]), adjusters=False)
