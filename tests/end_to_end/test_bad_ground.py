"""Ground that is none: `check` and `plan` say so alike, and one block's bad ground costs no other block."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import rasterio
from numpy.typing import NDArray
from pandas.testing import assert_frame_equal
from wirerun import plan_config
from wirerun.errors import Exit

if TYPE_CHECKING:
    from tests.conftest import Estate

# Two blocks beside each other, lopsided; B02 lies east of B01.
LEFT = [(-70.0, -14.0), (-8.0, -17.0), (-5.0, 15.0), (-66.0, 18.0)]
RIGHT = [(6.0, -15.0), (58.0, -12.0), (55.0, 21.0), (8.0, 17.0)]


@contextmanager
def heights_of(estate: "Estate") -> Iterator[tuple[NDArray[Any], NDArray[Any], NDArray[Any]]]:
    """Heights of the estate's raster, to be changed, and the plane place of each cell, to a decimetre or so."""
    path: Path = estate.folder / "ground.tif"
    with rasterio.open(path) as raster:
        heights, profile = raster.read(1), raster.profile
    row, column = np.mgrid[0 : heights.shape[0], 0 : heights.shape[1]] + 0.5
    cell = profile["transform"].a
    yield heights, (column - heights.shape[1] / 2.0) * cell, (heights.shape[0] / 2.0 - row) * cell
    with rasterio.open(path, "w", **profile) as raster:
        raster.write(heights, 1)
        raster.units = ["metre"]


def said(estate: "Estate", *words: str) -> tuple[int, list[str]]:
    """Exit code, and the errors and warnings."""
    done = estate.command(*words)
    return done.exit_code, re.findall(r"^(?:error|warning): .*$", done.stderr, re.MULTILINE)


def test_zeros_cost_their_own_block(make_estate: Callable[..., "Estate"]) -> None:
    both = make_estate(B01=LEFT, B02=RIGHT)
    with heights_of(both) as (heights, x, y):
        heights[(np.abs(x - 30.0) < 10.0) & (np.abs(y) < 10.0)] = 0.0
    done = both.command("check")
    assert done.exit_code == Exit.BAD_INPUT
    (told,) = re.findall(r"^error: (.*)$", done.stderr, re.MULTILINE)
    assert re.match(
        r"block B02 is not planned: ground\.tif: 1\s600 cells are exactly 0 m high \(\d+\.\d m2, within", told
    )
    assert "1 block, the elevation there and the config are in order." in done.stderr
    code, again = said(both, "plan", "--only", "schedule")
    assert code == Exit.BAD_INPUT
    assert [line for line in again if line.startswith("error")] == [f"error: {told}"]
    assert [(one["block_id"], one["exit_code"]) for one in both.record["missing"]] == [("B02", 3)]
    findings = pd.read_csv(both.folder / "out" / "schedule" / "findings.csv", encoding="utf-8-sig")
    assert list(findings["code"][:1]) == ["block-missing"]
    # What is left is what it would be alone.
    made, alone = plan_config(both.config()), plan_config(make_estate(B01=LEFT).config())
    for name in ("rows", "posts", "wires", "materials"):
        assert_frame_equal(getattr(made, name), getattr(alone, name))


def test_where_every_block_has_a_cliff_nothing_is_planned(make_estate: Callable[..., "Estate"]) -> None:
    one = make_estate(B02=RIGHT)
    with heights_of(one) as (heights, x, _):
        heights[x > 30.0] += 20.0
    for command in (["check"], ["plan", "--only", "schedule"]):
        done = one.command(*command)
        assert done.exit_code == Exit.BAD_INPUT
        assert "error: ground.tif, block B02: the ground rises or falls by as much as 20." in done.stderr
        assert "in order" not in done.stderr
    assert not (one.folder / "out").exists()


def test_warnings_are_the_same_in_both_and_nothing_is_called_in_order(make_estate: Callable[..., "Estate"]) -> None:
    """Vines on B01, whole decimetres and a spike under B02."""
    both = make_estate(B01=LEFT, B02=RIGHT)
    with heights_of(both) as (heights, x, y):
        west = x < 0.0
        heights[:] += np.where(west, 0.3 * np.cos(2.0 * np.pi * (0.94 * y + 0.342 * x) / 4.0), 0.0)
        heights[~west] = np.round(heights[~west], 1)
        heights[np.unravel_index(np.argmin(np.hypot(x - 30.0, y)), x.shape)] += 2.0
    code, told = said(both, "check")
    assert code == Exit.GOOD
    assert [re.match(r"warning: (B0\d): (\S+ \S+ \S+)", line).groups() for line in told] == [  # type: ignore[union-attr]
        ("B01", "Ridges 60 cm"),
        ("B02", "1 cell stands"),
        ("B02", "Heights are rounded"),
    ]
    done = both.command("check")
    assert "2 blocks can be planned, but see to 3 warnings above first." in done.stderr
    assert "in order" not in done.stderr
    code, again = said(both, "plan", "--only", "schedule")
    assert code == Exit.GOOD
    assert set(told) <= set(again)
    findings = pd.read_csv(both.folder / "out" / "schedule" / "findings.csv", encoding="utf-8-sig")
    assert {"ground-ridges", "ground-spikes", "ground-rounded"} <= set(findings["code"])
    assert said(both, "plan", "--only", "schedule", "--strict")[0] == Exit.FINDINGS
