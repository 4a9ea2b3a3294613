"""What a crew has to put right before new wires go on an old trellis: sentences with their numbers worked by hand."""

import numpy as np
import pytest
from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.model.clips import Clips
from wirerun.model.layout import Posts
from wirerun.model.wires import PostLoads
from wirerun.rules.clip_positions import clip_positions
from wirerun.rules.standing import what_stands
from wirerun.stages.clips.standing import note_standing, off_neighbours_m
from wirerun.state import IN_CLIPS

from tests.unit.rules.test_standing import config
from tests.unit.stages.conftest import stand_on

ROW = [0.0, 0.0, 0.0, 0.0]


def noted(
    posts: Posts,
    stands: list[bool],
    aside_m: list[float] | None,
    out_m: FloatArray | None = None,
    two_way: tuple[int, ...] = (),
    wire: int = 1,
    **standing: object,
) -> dict[str, str]:
    """What is said by code; wires at 0.9, 1.2 and 1.45 m, end pulls of 5000 N and more by the post, posts of 1.9 m."""
    settings, notes = config(**standing), Findings("B01")
    out = np.full(len(posts), 1.9) if out_m is None else out_m
    places = clip_positions(np.full(len(posts), 1.9), settings.clips, settings.wires, posts.row, ~posts.is_end)
    pieces = np.where(posts.is_end, 0, places.pieces(np.array([1, 2, 2])))
    kind = np.full((3, len(posts)), "one-way", dtype=object)
    kind[wire, list(two_way)] = "two-way"
    in_state = np.full((3, len(posts), len(IN_CLIPS)), None, dtype=object)
    clips = Clips(kind, kind.copy(), kind == "", in_state, in_state)
    pull = np.where(posts.is_end, 5000.0 + np.arange(len(posts)), np.nan)
    loads = PostLoads(pull, pull, pull, np.zeros((3, len(posts.rows))))
    stood = what_stands(np.array(stands), places, pieces, settings)
    aside = None if aside_m is None else np.array(aside_m)
    note_standing(posts, stood, (out, aside), places, clips, loads, settings, notes)
    return {note.code: note.message for note in notes}


def test_a_post_is_off_the_line_of_its_neighbours_not_off_the_line_that_was_drawn() -> None:
    """The example of the docstring; a whole row drawn 0.5 m aside is straight all the same."""
    posts = stand_on([0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0])
    off = off_neighbours_m(posts, np.array([0.1, 0.3, 0.1, 0.5, 0.5, 0.5, 0.5]))
    assert off == pytest.approx(np.array([0.0, 0.2, 0.0, 0.0, 0.0, 0.0, 0.0]))


def test_a_leaning_post_makes_its_neighbours_seem_off_by_half_of_it() -> None:
    posts = stand_on([0.0] * 5)
    off = off_neighbours_m(posts, np.array([0.0, 0.0, -0.2, 0.0, 0.0]))
    assert off == pytest.approx(np.array([0.0, 0.1, -0.2, 0.1, 0.0]))


def test_between_spans_of_3_and_9_m_the_line_is_nearer_to_the_nearer_post() -> None:
    """Neighbours 0 and 0.4 m aside: the line between them is 0.1 m aside 3 m from the first."""
    posts = stand_on([0.0, 0.0, 0.0], span_m=3.0)
    posts.along_m[:] = [0.0, 3.0, 12.0]
    assert off_neighbours_m(posts, np.array([0.0, 0.1, 0.4])) == pytest.approx(np.zeros(3))
    assert off_neighbours_m(posts, np.array([0.0, 0.4, 0.4]))[1] == pytest.approx(0.3)


def test_where_nothing_stands_nothing_is_said() -> None:
    assert noted(stand_on(ROW), [False] * 4, [0.0, 1.0, 0.0, 0.0]) == {}


def test_ends_have_to_bear_the_new_wires_and_the_one_that_is_pulled_most_is_named() -> None:
    said = noted(stand_on(ROW, ROW), [True] * 7 + [False], [0.0] * 8)
    assert set(said) == {"standing-ends"}
    assert (
        "3 standing end posts have to bear the new wires too, up to 5004 N in all (at B01-R002-P001)"
        in (said["standing-ends"])
    )
    assert noted(stand_on(ROW), [False, True, True, False], [0.0] * 4) == {}
    # Where all wires hang already there are no new ones.
    assert noted(stand_on(ROW), [True] * 4, [0.0] * 4, wires=["fruiting", "lower", "upper"]) == {}


def test_a_post_that_a_wire_does_not_reach_is_told_with_the_shortest() -> None:
    """A post as high as the wire is high enough: 1.2 m bears the wire at 1.2 m, not that at 1.45."""
    out_m = np.array([1.9, 1.2, 1.1, 1.0])
    said = noted(stand_on(ROW), [True, True, True, False], [0.0] * 4, out_m)["standing-short"]
    assert "2 standing posts are too short for the wire upper at 1.45 m, the shortest 1.10 m out of the ground" in said
    assert "replace or lengthen B01-R001-P002, B01-R001-P003" in said
    one = noted(stand_on(ROW), [False, True, True, False], [0.0] * 4, np.array([1.9, 1.3, 1.9, 1.9]))
    assert set(one) == {"standing-short"}


def test_posts_that_nobody_surveyed_are_taken_to_stand_where_they_are_planned() -> None:
    said = noted(stand_on(ROW), [True, True, False, False], None)
    assert said["standing-not-surveyed"].startswith("2 posts are taken to stand where the plan would have them")


def test_a_post_off_the_line_is_told_with_what_the_tightest_wire_pulls_it_to_the_side() -> None:
    """0.3 m off in spans of 6 m: 2 x T x 0.3 / 6, a tenth of the tension. Its neighbours are 0.15 m off: no more."""
    tight = max(wire.tension_n for wire in config().wires)
    said = noted(stand_on([0.0] * 5), [False, True, True, True, False], [0.0, 0.0, -0.3, 0.0, 0.0])
    assert set(said) == {"standing-off-line"}
    assert (
        f"1 standing post is more than 0.15 m off the line of the neighbours, the farthest 0.30 m: there a wire of "
        f"{tight:.0f} N pulls about {tight / 10.0:.0f} N to the side" in said["standing-off-line"]
    )
    assert "Set upright or move B01-R001-P003." in said["standing-off-line"]
    assert noted(stand_on([0.0] * 5), [False, True, False, True, False], [0.0, 0.0, -0.3, 0.0, 0.0]) == {}


def test_the_farther_of_two_is_told_and_pulls_by_its_own_shorter_span() -> None:
    posts = stand_on([0.0] * 6)
    posts.along_m[:] = [0.0, 6.0, 12.0, 18.0, 20.0, 26.0]
    tight = max(wire.tension_n for wire in config().wires)
    said = noted(posts, [False, True, False, False, True, False], [0.0, 0.2, 0.0, 0.0, 0.4, 0.0])
    assert "2 standing posts are more than 0.15 m off" in said["standing-off-line"]
    assert (
        f"the farthest 0.40 m: there a wire of {tight:.0f} N pulls about {2.0 * tight * 0.4 / 2.0:.0f} N"
        in (said["standing-off-line"])
    )


def test_fixings_that_stand_elsewhere_are_ordered_anew() -> None:
    """The lower wire has its own at 1.20 m and is lent the upper's at 1.45 m; the upper's are at 1.45 and 1.70 m."""
    stands, heights = [False, True, True, False], [1.2, 1.3]
    assert noted(stand_on(ROW), stands, [0.0] * 4, fixings=["lower"], fixing_heights_m=heights) == {}
    upper = noted(stand_on(ROW), stands, [0.0] * 4, fixings=["upper"], fixing_heights_m=heights)
    assert (
        "The wire upper needs fixings at 1.45, 1.70 m, but those that stand are at 1.20, 1.30 m (within 2 cm): they "
        "are ordered anew there, on 2 posts." in upper["standing-fixings-elsewhere"]
    )
    assert noted(stand_on(ROW), stands, [0.0] * 4, fixings=["fruiting"], fixing_heights_m=[0.91]) == {}
    assert noted(stand_on(ROW), stands, [0.0] * 4, fixings=["upper"]) == {}


def test_two_way_clips_are_asked_for_only_where_fixings_stand() -> None:
    stands = [False, True, True, False]
    said = noted(stand_on(ROW), stands, [0.0] * 4, two_way=(2,), fixings=["lower"])
    assert set(said) == {"standing-one-way"}
    assert "1 post asks for two-way clips where fixings stand already (wires lower)" in said["standing-one-way"]
    assert said["standing-one-way"].endswith("B01-R001-P003.")
    assert noted(stand_on(ROW), stands, [0.0] * 4, two_way=(2,), fixings=["upper"]) == {}
    assert noted(stand_on(ROW), [False, True, False, False], [0.0] * 4, two_way=(2,), fixings=["lower"]) == {}
    # A single staple of the fruiting wire is a fixing, too.
    said = noted(stand_on(ROW), stands, [0.0] * 4, two_way=(1, 2), wire=0, fixings=["fruiting"])
    assert "2 posts ask for two-way clips where fixings stand already (wires fruiting)" in said["standing-one-way"]
