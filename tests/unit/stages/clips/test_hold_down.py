"""What the two-way clips would be if one-way clips held more or less."""

import numpy as np
import pytest
from wirerun.findings import Findings
from wirerun.model.clips import Clips
from wirerun.stages.clips.hold_down import compare_hold_downs

# Two wires on four posts: what they pull up by, and the clips on each.
PULL_N = np.array([[1.0, 6.0, 12.0, 30.0], [0.0, 0.0, 25.0, 3.0]])
PIECES = np.array([[2, 2, 2, 2], [1, 1, 1, 1]])


def clips_at(hold_n: float) -> Clips:
    kind = np.where(hold_n < PULL_N, "two-way", "one-way").astype(object)
    three = np.repeat(kind[..., None], 4, axis=-1)
    return Clips(kind, kind, np.zeros(kind.shape, dtype=bool), three, three)


def test_the_counts_are_those_of_plans_made_so() -> None:
    notes = Findings("B01")
    options = compare_hold_downs(5.0, clips_at(5.0), clips_at, PIECES, [], notes)
    assert [(each.hold_n, each.posts, each.pieces, each.planned) for each in options] == [
        (0.0, 4, 10, False),
        (5.0, 3, 7, True),
        (10.0, 2, 5, False),
        (20.0, 2, 3, False),
    ]
    assert [note.code for note in notes] == ["clips-untested"]
    assert "4 at 0 N, 3 at 5 N, 2 at 10 N, 2 at 20 N" in notes[0].message


@pytest.mark.parametrize("planned", [10.0, 7.3])
def test_a_plan_made_by_a_test_is_told_by_the_table_alone(planned: float) -> None:
    notes = Findings("B01")
    options = compare_hold_downs(planned, clips_at(planned), clips_at, PIECES, [planned], notes)
    assert notes == []
    assert [each.hold_n for each in options if each.planned] == [planned]
    assert {0.0, 5.0, 10.0, 20.0} <= {each.hold_n for each in options}
