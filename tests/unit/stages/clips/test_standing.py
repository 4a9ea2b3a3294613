"""What a crew has to put right before new wires go on an old trellis."""

import numpy as np
import pytest
from wirerun.findings import Findings
from wirerun.stages.clips.standing import off_neighbours_m

from tests.unit.stages.conftest import stand_on


def test_a_post_is_off_the_line_of_its_neighbours_not_off_the_line_that_was_drawn() -> None:
    """The example of the docstring; a whole row drawn 0.5 m aside is straight all the same."""
    posts = stand_on([0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0])
    off = off_neighbours_m(posts, np.array([0.1, 0.3, 0.1, 0.5, 0.5, 0.5, 0.5]))
    assert off == pytest.approx(np.array([0.0, 0.2, 0.0, 0.0, 0.0, 0.0, 0.0]))


def test_a_leaning_post_makes_its_neighbours_seem_off_by_half_of_it() -> None:
    posts = stand_on([0.0] * 5)
    off = off_neighbours_m(posts, np.array([0.0, 0.0, -0.2, 0.0, 0.0]))
    assert off == pytest.approx(np.array([0.0, 0.1, -0.2, 0.1, 0.0]))
    assert not list(Findings())
