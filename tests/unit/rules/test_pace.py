"""What slope makes of the hours of work."""

import numpy as np
from wirerun.rules.pace import slope_factor
from wirerun.settings import WorkSettings


def test_a_slope_on_the_edge_of_two_classes_is_of_the_steeper_and_an_unknown_one_of_the_flattest() -> None:
    work = WorkSettings(slope_classes_pct=(10.0, 30.0), slope_factors=(1.0, 1.25, 2.0))
    slope = np.array([0.0, 9.99, 10.0, 29.9, 30.0, 80.0, np.nan])
    assert slope_factor(slope, work).tolist() == [1.0, 1.0, 1.25, 1.25, 2.0, 2.0, 1.0]
