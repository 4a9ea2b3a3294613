"""What [standing] refuses: a sentence each, with the place and what is known."""

from pathlib import Path
from typing import Any

import pytest
from wirerun.errors import Faults
from wirerun.read.points import read_points
from wirerun.read.standing import which_stand
from wirerun.settings import Config, StandingSettings, broken_rules

WIRES = [{"id": "fruiting", "kind": "fixed", "height_m": 0.9}]
TABLE = "id,lon,lat,state\nP1,-7.6,41.2,stands\nP2,-7.6,41.2001,broken\n"


def test_clips_that_stand_are_not_set_off_their_heights() -> None:
    foliage = {"id": "lower", "kind": "foliage", "height_m": 1.2}
    written = {"standing": {"posts": True, "fixings": True}, "wires": [*WIRES, foliage], "clips": {"level_m": 0.05}}
    sentence = "clips that stand already are not set off their heights; leave it at 0"
    assert broken_rules(written | {"rows": {"bearing_deg": 1.0}}) == [("clips.level_m", sentence)]
    stapled = {"posts": True, "wires": ["fruiting"]}
    assert broken_rules(written | {"rows": {"bearing_deg": 1.0}, "standing": stapled}) == []


def broken(standing: dict[str, Any], placing: str = "given") -> list[tuple[str, str]]:
    posts = {"placing": placing, "points": "posts.csv"}
    rows = {"bearing_deg": 10.0}
    return broken_rules({"standing": standing, "posts": posts, "wires": WIRES, "rows": rows})


@pytest.mark.parametrize(
    ("standing", "placing", "place", "sentence"),
    [
        ({"posts": True, "wires": ["upper"]}, "given", "wires", 'there is no wire "upper"; the config has fruiting'),
        ({"posts": True, "fixings": ["x"]}, "given", "fixings", 'there is no wire "x"; the config has fruiting'),
        ({"posts": True, "wires": "upper"}, "given", "wires", 'there is no wire "upper"; the config has fruiting'),
        ({"wires": ["fruiting"]}, "given", "wires", "no post stands to hold them; set standing.posts too"),
        ({"fixings": True}, "given", "fixings", "no post stands to hold them; set standing.posts too"),
        (
            {"posts": "state=stands"},
            "equal",
            "posts",
            'an attribute is one of surveyed posts; set posts.placing = "given" and posts.points',
        ),
        (
            {"posts": True, "fixing_heights_m": [1.2]},
            "given",
            "fixing_heights_m",
            "no fixing stands; name its wires in standing.fixings",
        ),
    ],
)
def test_rules_between_what_stands_and_the_rest(
    standing: dict[str, Any], placing: str, place: str, sentence: str
) -> None:
    assert broken(standing, placing) == [(f"standing.{place}", sentence)]


@pytest.mark.parametrize("posts", ["stands", "=x", "state= "])
def test_a_condition_has_a_name_and_a_value(posts: str) -> None:
    with pytest.raises(ValueError, match='wanted are true, false, "attribute=value" or a list of posts'):
        StandingSettings.model_validate({"posts": posts})


def which(tmp_path: Path, *, posts: object) -> tuple[list[bool], list[str]]:
    faults = Faults()
    (tmp_path / "posts.csv").write_text(TABLE, encoding="utf-8")
    points = read_points("posts.csv", tmp_path, faults)
    assert points is not None
    settings = StandingSettings.model_validate({"posts": posts})
    stands = which_stand(points, settings, "old.toml", faults).tolist()
    return stands, [str(fault) for fault in faults.found]


def test_surveyed_posts_stand_by_attribute_or_name(tmp_path: Path) -> None:
    assert which(tmp_path, posts="State = Stands") == ([True, False], [])
    assert which(tmp_path, posts=["P2"]) == ([False, True], [])
    assert which(tmp_path, posts=True) == ([True, True], [])


@pytest.mark.parametrize(
    ("posts", "sentence"),
    [
        ("stat=stands", 'the posts of posts.csv have no "stat"; they have id, lon, lat, state'),
        ("state=stand", 'no post of posts.csv has state = "stand"; they have "stands", "broken"'),
        (["P1", "P7"], 'posts.csv has no post "P7"; did you mean "P2"?'),
    ],
)
def test_what_no_surveyed_post_has_is_told(posts: object, sentence: str, tmp_path: Path) -> None:
    _, (told,) = which(tmp_path, posts=posts)
    assert told.endswith(sentence)
    assert "old.toml" in told
    assert "standing.posts" in told


def test_a_height_out_of_the_ground_has_limits(tmp_path: Path) -> None:
    (tmp_path / "posts.csv").write_text(
        "id,lon,lat,height_out_m\nP1,-7.6,41.2,19\nP2,-7.6,41.2,1.9\n", encoding="utf-8"
    )
    faults = Faults()
    points = read_points("posts.csv", tmp_path, faults)
    assert points is not None
    assert points.out_m.tolist() == [1.9]
    assert "a height out of the ground of 19 m is outside the limits 0.3 and 6 m" in str(faults.found[0])


def test_a_blocks_own_standing_goes_over_the_configs() -> None:
    config = Config.model_validate(
        {
            "name": "two",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 10.0, "spacing_m": 2.4},
            "wires": WIRES,
            "blocks": {"B02": {"standing": {"posts": True, "wires": ["fruiting"]}}},
        }
    )
    assert config.for_block("B01").standing.posts is False
    assert config.for_block("B02").standing.wires == ("fruiting",)
