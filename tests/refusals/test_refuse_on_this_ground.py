"""Settings that are in range but do not work on the ground at hand."""

from collections.abc import Callable
from typing import Any

import pytest
from wirerun import plan_config
from wirerun.errors import Exit, InputError

BOX = [(-60.0, -15.0), (60.0, -15.0), (60.0, 15.0), (-60.0, 15.0)]


def test_a_first_row_on_a_side_the_rows_run_to(make_scene: Callable[..., Any]) -> None:
    scene = make_scene(lambda x, y: 300.0 + 0.05 * x + 0.0 * y, BOX)
    towards = {"bearing_deg": 93.0, "first_row": "east"}
    with pytest.raises(InputError) as refused:
        plan_config(scene.config(rows=towards))
    wanted = (
        'config, rows.first_row = "east": square to the rows is 87.0 degrees off east, at most 85 will do: they have '
        'no first row on that side; set "left" or "right", as one looks along them'
    )
    assert str(refused.value) == wanted
    assert refused.value.exit_code == Exit.BAD_INPUT


def test_a_tension_too_low_to_carry_a_span(make_scene: Callable[..., Any]) -> None:
    """An 8 mm wire weighs 3.87 N/m; over 30 m it needs 0.7544 w l = 88 N (level inextensible catenary)."""
    scene = make_scene(lambda x, y: 300.0 + 0.0 * (x + y), BOX)
    thick = [{"id": "thick", "kind": "foliage", "height_m": 1.2, "diameter_mm": 8.0, "tension_n": 20.0}]
    with pytest.raises(InputError) as refused:
        plan_config(scene.config(rows={"bearing_deg": 90.0}, posts={"max_span_m": 30.0}, wires=thick))
    assert "config, wires.thick.tension_n = 20: the wire cannot be strung" in str(refused.value)
    assert refused.value.exit_code == Exit.BAD_INPUT
