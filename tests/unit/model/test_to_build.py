"""What is to be built, out of tables: all but what stands; and what the values refuse."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from wirerun.arrays import words
from wirerun.errors import ModelError
from wirerun.model.to_build import BuiltPosts, ToBuild
from wirerun.settings import WorkSettings

from tests.unit.stages.written_down import Planned, nothing


def planned() -> Planned:
    """Two rows; in the first the end posts, the fruiting wire and half of the lower wire's clips stand."""
    rows = pd.DataFrame({"row_id": ["R1", "R2"]})
    posts = pd.DataFrame(
        {
            "row_id": ["R1", "R1", "R1", "R1", "R2", "R2"],
            "kind": ["end", "intermediate", "intermediate", "end", "end", "end"],
            "post_item": ["stout", "slim", "slim", "stout", "stout", "stout"],
            "standing": ["yes", "no", "no", "yes", "no", "no"],
        }
    )
    clips = pd.DataFrame(
        {"row_id": "R1", "wire_id": ["fruiting", "lower", "lower"], "fixing": "clip", "pieces": [1, 4, 4]}
    ).assign(standing_pieces=[1, 2, 0])
    wires = pd.DataFrame({"row_id": "R1", "wire_id": ["fruiting", "lower"], "lines": [1, 2], "run_out_m": [50.0, 99.0]})
    wires["standing"] = ["yes", "no"]
    adjusters = pd.DataFrame({"row_id": "R1", "wire_id": "lower", "kind": "tie", "standing": ["yes", "no"]})
    return replace(nothing(), rows=rows, posts=posts, clips=clips, wires=wires, adjusters=adjusters)


def test_what_stands_is_not_built_and_what_is_alike_is_counted_together() -> None:
    job = planned().job(WorkSettings())
    assert job.posts.posts.tolist() == [2, 2]
    assert job.posts.row.tolist() == [0, 1]
    assert job.posts.is_end.tolist() == [False, True]
    assert job.clips.pieces.tolist() == [6]
    assert job.clips.wire_id.tolist() == ["lower"]
    assert job.wires.wire_id.tolist() == ["lower"]
    assert job.adjusters.adjusters.tolist() == [1]
    assert job.per_row(job.posts.row, job.posts.posts).tolist() == [2.0, 2.0]


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"posts": np.array([1])}, "BuiltPosts.many has the shape"),
        ({"posts": np.array([2, 0])}, "BuiltPosts counts 0 of what is there"),
        ({"item": words(["stout"])}, "BuiltPosts.item has the shape"),
    ],
)
def test_counts_that_do_not_go_with_the_rows_are_refused(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(ModelError, match=says):
        replace(planned().job(WorkSettings()).posts, **changes)


def test_a_row_that_is_not_there_is_refused() -> None:
    job = planned().job(WorkSettings())
    far = BuiltPosts(np.array([5]), np.array([True]), words(["a"]), words([None]), np.array([1]))
    with pytest.raises(ModelError, match=r"BuiltPosts.row reaches from 5 to 5; there are 2 rows"):
        ToBuild(job.rows, far, job.clips, job.wires, job.adjusters)
