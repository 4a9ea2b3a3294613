"""A wire strained in the air and drawn into its clips afterwards."""

from collections.abc import Callable

import numpy as np
import pytest
from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.model.layout import Posts
from wirerun.settings import WireSettings
from wirerun.stages.wires.unclipped import strained_unclipped

WIRE = WireSettings(id="lower", kind="foliage", height_m=1.2, breaking_n=4200.0)
STIFFNESS = 200e9 * np.pi * 0.0025**2 / 4.0  # EA of 2.5 mm steel [N]


def ends_at(posts: Posts, wire: WireSettings = WIRE, notes: Findings | None = None) -> FloatArray:
    return np.asarray(strained_unclipped(posts, (wire,), Findings("B01") if notes is None else notes)[0])


@pytest.mark.parametrize("ground", [[0.0] * 7, [0.0, 0.5, 1.0, 1.5, 2.0], [0.0, 0.4, 0.7, 0.9, 0.7, 0.4, 0.0]])
def test_on_even_ground_and_over_a_crest_the_order_is_of_no_matter(
    stand: Callable[..., Posts], ground: list[float]
) -> None:
    assert ends_at(stand(ground)) == pytest.approx([300.0], rel=1e-9)


def test_over_a_hollow_it_is_too_short_by_what_the_way_down_is_longer(stand: Callable[..., Posts]) -> None:
    """12 m straight against 2 x sqrt(6^2 + 0.3^2) = 12.015 m: EA of 982 kN makes 1227 N of it.

    What is left, the sag of the spans w^2 l^3 / (24 T^2), is 1.3 mm in the air and 0.1 mm in the clips.
    """
    weight = 7850.0 * 9.80665 * np.pi * 0.0025**2 / 4.0
    found = ends_at(stand([0.0, -0.3, 0.0]))[0]
    longer = 2.0 * np.hypot(6.0, 0.3) - 12.0
    sagging = weight**2 * 12.0**3 / (24.0 * 300.0**2) - 2.0 * weight**2 * 6.0**3 / (24.0 * found**2)
    assert found == pytest.approx(300.0 + STIFFNESS * (longer - sagging) / 12.0, rel=2e-3)


def test_a_wire_that_sags_into_a_wide_hollow_bears_on_its_clips(stand: Callable[..., Posts]) -> None:
    """A hollow as deep as a wire at 300 N sags, w L^2 / (8 T): it lies in all its clips while it is strained."""
    x = np.linspace(-30.0, 30.0, 11)
    weight = 7850.0 * 9.80665 * np.pi * 0.0025**2 / 4.0
    found = ends_at(stand((weight * x**2 / (2.0 * 310.0)).tolist()))[0]
    assert found == pytest.approx(300.0, rel=0.01)


def test_one_row_does_not_change_another_and_a_knot_that_would_go_is_told(stand: Callable[..., Posts]) -> None:
    notes = Findings("B01")
    both = ends_at(stand([0.0, -0.8, 0.0], [0.0, 0.0, 0.0]), notes=notes)
    assert both[0] == pytest.approx(ends_at(stand([0.0, -0.8, 0.0]))[0], rel=1e-12)
    assert both[1] == pytest.approx(300.0, rel=1e-9)
    (told,) = notes
    assert told.code == "strained-unclipped"
    assert "B01-R001" in told.message
    assert "B01-R002" not in told.message
    assert "1848 N" in told.message  # 0.44 x 4200 N


def test_a_wire_too_slack_to_hang_free_has_no_such_tension(stand: Callable[..., Posts]) -> None:
    slack = WIRE.model_copy(update={"tension_n": 10.0})
    assert np.isnan(ends_at(stand([0.0, *[-20.0] * 9, 0.0]), slack)).all()
