"""How tall each post is, and which is bought: two rows of four posts, three spans each."""

import numpy as np
import pytest
from wirerun.arrays import FloatArray
from wirerun.errors import SettingError
from wirerun.findings import Findings
from wirerun.model.layout import PostHeights
from wirerun.settings import Catalogue, PostSettings
from wirerun.stages.layout.post_heights import choose_posts

from tests.unit.rules.test_from_catalogue import post
from tests.unit.stages.conftest import stand_on

# 0.6 m in the ground: 1.8 and 2.2 m out of it between the ends, 2.0 m at them.
CATALOGUE = Catalogue(
    posts=(
        post("line", "intermediate", 2.4, 5.0),
        post("tall line", "intermediate", 2.8, 7.0),
        post("end", "end", 2.6, 20.0),
    )
)
CLEAR = np.full((2, 6), 0.5)


def chosen(
    clearance_m: FloatArray, standing: tuple[list[bool], list[float]] | None = None, **changes: float | str
) -> tuple[PostHeights, list[str]]:
    posts, notes = stand_on([0.0] * 4, [0.0] * 4), Findings("B01")
    stood = None if standing is None else (np.array(standing[0]), np.array(standing[1]))
    settings = PostSettings.model_validate({"height_out_m": 1.8, "least_clearance_m": 0.3} | changes)
    return choose_posts(posts, clearance_m, settings, CATALOGUE, notes, stood), [note.message for note in notes]


def test_posts_of_one_height_are_the_cheapest_of_their_kind_that_is_long_enough() -> None:
    made, said = chosen(CLEAR)
    assert made.out_m.tolist() == [1.8] * 8
    assert made.item.tolist() == ["end", "line", "line", "end"] * 2
    assert said == []


def test_both_ends_of_a_span_in_which_a_wire_comes_too_low_are_taller() -> None:
    """The second wire, in the middle span of row 1; just 0.3 m in the first of row 2 is enough."""
    low = CLEAR.copy()
    low[1, 1], low[0, 3] = 0.29, 0.3
    made, _ = chosen(low, tall_height_out_m=2.2)
    assert made.out_m.tolist() == [1.8, 2.2, 2.2, 1.8, 1.8, 1.8, 1.8, 1.8]
    assert made.item.tolist() == ["end", "tall line", "tall line", "end", "end", "line", "line", "end"]
    # Without a taller post in the config there is none.
    assert chosen(low)[0].out_m.tolist() == [1.8] * 8


def test_posts_that_stand_keep_the_height_that_was_measured() -> None:
    low = CLEAR.copy()
    low[0, 1] = 0.1
    stands, out_m = [False, True, True, False] * 2, [np.nan, 1.65, np.nan, np.nan] * 2
    made, _ = chosen(low, (stands, out_m), tall_height_out_m=2.2)
    assert made.out_m.tolist() == [1.8, 1.65, 1.8, 1.8] * 2
    assert made.item.tolist() == ["end", "line", "line", "end"] * 2


def test_places_for_which_nobody_sells_a_post_are_told_and_those_that_stand_are_not() -> None:
    made, said = chosen(CLEAR, height_out_m=2.1)
    assert made.item.tolist() == [None, "tall line", "tall line", None] * 2
    assert len(said) == 1
    assert "no post for 4 places in need of 2.1 m out of the ground" in said[0]
    _, said = chosen(CLEAR, ([True] * 8, [np.nan] * 8), height_out_m=2.1)
    assert said == []


def test_a_post_that_the_config_names_is_taken_where_it_is_long_enough() -> None:
    made, _ = chosen(CLEAR, intermediate_item="tall line")
    assert made.item.tolist() == ["end", "tall line", "tall line", "end"] * 2
    with pytest.raises(SettingError, match="the catalogue has no 'other'"):
        chosen(CLEAR, end_item="other")
