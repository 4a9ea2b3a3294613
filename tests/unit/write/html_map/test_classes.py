"""Each post and row is of one class, as planned and in every state, and the classes are those of the tables."""

import dataclasses
from collections import Counter

import numpy as np
import pandas as pd
import pytest
from wirerun.records import Plan
from wirerun.state import IN_CLIPS, State
from wirerun.tables import OF_STATE
from wirerun.write.html_map.classes import (
    POST_CLASSES,
    ROW_CLASSES,
    counts,
    post_classes,
    row_classes,
    state_classes,
    views,
)


def of_posts(plan: Plan, state: str = "") -> dict[str, str]:
    """Return the class of each post of row 1, by the end of its id."""
    classes = state_classes(plan, State(state)) if state else post_classes(plan)
    named = zip(plan.posts["post_id"], classes, strict=True)
    return {post[-4:]: POST_CLASSES[number] for post, number in named if post.startswith("B01-R001")}


def of_rows(plan: Plan) -> list[str]:
    """Return the class of each row."""
    return [ROW_CLASSES[number] for number in row_classes(plan)]


def with_wires(plan: Plan, says: str | None, row: str = "B01-R001") -> Plan:
    """Return the plan with another word on whether the lower wire of a row drops by itself."""
    wires = plan.wires.copy()
    wires.loc[(wires["row_id"] == row) & (wires["wire_id"] == "lower"), "drops_by_itself"] = says
    return dataclasses.replace(plan, wires=wires)


def test_as_planned(plan: Plan) -> None:
    assert of_posts(plan) == {"P001": "end", "P002": "two-way", "P003": "look", "P004": "plain", "P005": "end"}
    # An end post without height is an end post.
    assert POST_CLASSES[post_classes(plan)[-1]] == "end"


@pytest.mark.parametrize(
    ("state", "second", "third"),
    [
        ("strung", "two-way", "plain"),
        ("cold", "two-way", "look"),
        ("hot", "look", "plain"),
        ("lifted", "two-way", "plain"),
    ],
)
def test_in_each_state(plan: Plan, state: str, second: str, third: str) -> None:
    classes = of_posts(plan, state)
    assert classes == {"P001": "end", "P002": second, "P003": third, "P004": "plain", "P005": "end"}


@pytest.mark.parametrize("state", IN_CLIPS)
def test_classes_of_a_state_are_those_of_its_columns(plan: Plan, state: State) -> None:
    """Line by line, without the joins that the map uses."""
    by_post = plan.clips.groupby("post_id")
    wanted = Counter(kind for kind in plan.posts["kind"] if kind != "intermediate")
    for _, clips in by_post:
        kinds, loads = clips[OF_STATE[state].clip], clips[OF_STATE[state].load]
        if (kinds == "two-way").any():
            wanted["two-way"] += 1
        elif ((kinds == "one-way") & (loads < 0.0)).any():
            wanted["look"] += 1
        else:
            wanted["plain"] += 1
    assert +Counter(counts(POST_CLASSES, state_classes(plan, state))) == wanted


def test_a_stapled_wire_that_pulls_up_does_not_count(plan: Plan) -> None:
    clips = plan.clips.copy()
    clips.loc[clips["wire_id"] == "fruiting", "load_cold_n"] = -50.0
    assert of_posts(dataclasses.replace(plan, clips=clips), "cold") == of_posts(plan, "cold")


def test_a_post_without_loads_is_unknown(plan: Plan) -> None:
    clips = plan.clips.copy()
    clips.loc[clips["post_id"] == "B01-R001-P004", "load_cold_n"] = float("nan")
    lost = dataclasses.replace(plan, clips=clips)
    assert of_posts(lost, "cold")["P004"] == "unknown"
    assert of_posts(lost, "hot")["P004"] == "plain"


@pytest.mark.parametrize(
    ("need", "drawn"),
    [("two-way", "two-way"), ("look-on-site", "look"), ("unknown", "unknown"), ("one-way", "plain"), ("none", "plain")],
)
def test_as_planned_a_post_is_drawn_as_it_is_listed(plan: Plan, need: str, drawn: str) -> None:
    listed = plan.posts["clip_need"].where(plan.posts["post_id"] != "B01-R001-P004", need)
    posts = plan.posts.assign(clip_need=listed)
    assert of_posts(dataclasses.replace(plan, posts=posts)) == of_posts(plan) | {"P004": drawn}


def test_rows_by_their_worst_wire(plan: Plan) -> None:
    assert of_rows(plan) == ["drops", "adjuster"]
    assert of_rows(with_wires(plan, "no")) == ["adjuster", "adjuster"]
    assert of_rows(with_wires(plan, None)) == ["uncomputed", "adjuster"]


def test_a_row_that_no_adjuster_reaches(plan: Plan) -> None:
    adjusters = plan.adjusters.assign(kind=pd.Series([None] * len(plan.adjusters), dtype="str"))
    assert of_rows(dataclasses.replace(plan, adjusters=adjusters)) == ["drops", "beyond"]


def test_a_row_without_foliage_wires(plan: Plan) -> None:
    wires = tuple(wire for wire in plan.config.wires if wire.kind == "fixed")
    config = plan.config.model_copy(update={"wires": wires})
    bare = dataclasses.replace(plan, config=config, adjusters=plan.adjusters.iloc[:0])
    assert of_rows(bare) == ["fixed", "fixed"]


def test_only_states_that_are_known_are_offered(plan: Plan, bare_plan: Plan) -> None:
    assert views(plan) == ["planned", *IN_CLIPS, "dropped"]
    clips = plan.clips.assign(load_lifted_n=np.nan)
    wires = plan.wires.assign(drops_by_itself=pd.Series([None] * len(plan.wires), dtype="str"))
    assert views(dataclasses.replace(plan, clips=clips, wires=wires)) == ["planned", "strung", "cold", "hot"]
    assert views(bare_plan) == ["planned"]
