"""Which blocks have which wire, as map, terminal and record tell it."""

import dataclasses
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from wirerun.records import Plan


@pytest.mark.parametrize(
    ("own", "alike"),
    [
        ({}, True),
        ({"tension_n": 250.0, "tail_m": 0.7}, True),
        ({"diameter_mm": 2.0}, False),
        ({"height_m": 1.1}, False),
        ({"lines": 1}, False),
        ({"kind": "fixed"}, False),
    ],
)
def test_a_wire_is_one_where_nobody_could_tell_it_apart(plan: Plan, own: dict[str, Any], alike: bool) -> None:  # noqa: FBT001 - a case
    blocks = plan.blocks
    two = gpd.GeoDataFrame(pd.concat([blocks, blocks.assign(block_id="B02")], ignore_index=True), crs=blocks.crs)
    written = plan.config.model_dump(exclude={"blocks"}) | {"blocks": {"B02": {"wires": {"lower": own}}}}
    both = dataclasses.replace(plan, blocks=two, config=type(plan.config).model_validate(written))
    lower = [one.block_ids for one in both.wires_of_blocks() if one.wire_id == "lower"]
    assert sorted(lower) == ([("B01", "B02")] if alike else [("B01",), ("B02",)])
    fruiting = [one.block_ids for one in both.wires_of_blocks() if one.wire_id == "fruiting"]
    assert fruiting == [("B01", "B02")]
    # The rows of the plan all lie in B01: nothing is told of the other block.
    (first,) = (one for one in both.wires_of_blocks() if one.wire_id == "lower" and "B01" in one.block_ids)
    assert len(both.lines_of(both.wires, first)) == len(plan.rows)
    others = [one for one in both.wires_of_blocks() if one.block_ids == ("B02",)]
    assert all(both.lines_of(both.wires, one).empty for one in others)
