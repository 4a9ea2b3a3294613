"""What became of each post from one plan to another, on four posts."""

from collections.abc import Sequence

import pandas as pd
import pytest
from wirerun.records import FinishedPlan
from wirerun.stages.compare.posts import mark_posts

# Degrees of latitude of a metre on WGS 84 at 41 degrees: M(41) pi/180 with M = a (1-e2)/(1-e2 sin2)^1.5 is 111 054 m.
METRE = 1.0 / 111_054.0


def plan(posts: list[tuple[str, float, str]], clips: Sequence[tuple[str, str, str, str]] = ()) -> FinishedPlan:
    """Posts by id, latitude and ground; clips by post, wire, kind and load."""
    stands = pd.DataFrame(posts, columns=["post_id", "lat", "ground_m"]).assign(row_id="R1", lon="-7.600000000")
    stands["lat"] = [f"{lat:.9f}" for lat in stands["lat"]]
    hangs = pd.DataFrame(clips, columns=["post_id", "wire_id", "clip", "load_min_n"], dtype="str")
    return FinishedPlan("somewhere", {}, {"posts": stands.astype("str"), "clips": hangs})


def marks(first: FinishedPlan, other: FinishedPlan) -> pd.DataFrame:
    return mark_posts(first, other, "B").set_index("post_id")


def test_nothing_changed_nothing_said() -> None:
    one = plan([("P1", 41.0, "6.000")], [("P1", "low", "one-way", "3.0")])
    assert len(mark_posts(one, one, "B")) == 0


def test_added_gone_and_moved() -> None:
    """A post is staked to a centimetre: one that is 9 mm off stands where it stood."""
    first = plan([("P1", 41.0, "6"), ("P2", 41.1, "6"), ("P3", 41.2, "6"), ("P4", 41.3, "6")])
    other = plan(
        [("P1", 41.0 + 0.011 * METRE, "6"), ("P3", 41.2 + 0.009 * METRE, "6"), ("P4", 41.3, "6"), ("P5", 41.4, "6")]
    )
    found = marks(first, other)
    assert found["mark"].to_dict() == {"P1": "moved", "P2": "gone", "P3": "numbers", "P5": "added"}
    assert found["moved_m"].to_dict() == pytest.approx(
        {"P1": 0.011, "P2": float("nan"), "P3": 0.009, "P5": float("nan")}, nan_ok=True, abs=2e-4
    )
    # One that is gone is shown where it stood, one that is added as if it had always stood there.
    assert found["lat"]["P2"] == found["earlier_lat"]["P2"] == 41.1
    assert found["lat"]["P5"] == found["earlier_lat"]["P5"] == 41.4
    assert (found["plan"] == "B").all()
    assert (found["row_id"] == "R1").all()


def test_what_the_crew_does_otherwise_is_told_apart_from_numbers() -> None:
    at = [("P1", 41.0, "6"), ("P2", 41.1, "6"), ("P3", 41.2, "6")]
    first = plan(at, [("P1", "low", "one-way", "3"), ("P1", "top", "one-way", "4"), ("P2", "low", "one-way", "5")])
    other = plan(
        [at[0], at[1], ("P3", 41.2, "7")],
        [("P1", "low", "two-way", "3"), ("P1", "top", "two-way", "4"), ("P2", "low", "one-way", "5.5")],
    )
    found = marks(first, other)
    assert found["mark"].to_dict() == {"P1": "clips", "P2": "numbers", "P3": "numbers"}
    assert found["clips"]["P1"] == "low: clip one-way > two-way; top: clip one-way > two-way"
    assert found["numbers"]["P2"] == "low: load_min_n 5 > 5.5"
    assert found["moved_m"].tolist() == [0.0, 0.0, 0.0]


def test_a_clip_more_or_less_on_a_post_that_stands_is_the_crews_to_know() -> None:
    """Clips of a post that is added or gone are no change of their own."""
    first = plan(
        [("P1", 41.0, "6"), ("P2", 41.1, "6"), ("P3", 41.2, "6")],
        [("P1", "low", "one-way", "3"), ("P2", "low", "one-way", "3"), ("P2", "top", "one-way", "4")],
    )
    other = plan(
        [("P1", 41.0, "6"), ("P2", 41.1, "6"), ("P4", 41.3, "6")],
        [
            *(("P1", "low", "one-way", "3"), ("P1", "top", "two-way", "4")),
            *(("P2", "top", "one-way", "4.5"), ("P4", "low", "one-way", "3")),
        ],
    )
    found = marks(first, other)
    assert found["mark"].to_dict() == {"P1": "clips", "P2": "clips", "P3": "gone", "P4": "added"}
    assert found["clips"].dropna().to_dict() == {"P1": "top: added", "P2": "low: gone"}
    assert found["numbers"]["P2"] == "top: load_min_n 4 > 4.5"
