"""Jobs too large for the machine, or for anybody: refused before they start, with the numbers and how to go on."""

from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine
from wirerun.errors import Exit
from wirerun.read import job_size
from wirerun.read.config import load_config
from wirerun.read.job_size import memory_there

from tests.refusals.conftest import EAST, NORTH, polygon

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate

KM = [(5.0, 5.0), (2985.0, 5.0), (2985.0, 2985.0), (5.0, 2985.0)]  # 888 ha


@pytest.fixture
def large(estate: "Estate") -> "Estate":
    """Return an estate of one block of 888 ha on cells of 10 m."""
    estate.boundary(polygon(KM))
    row, column = np.mgrid[0:300, 0:300]
    cells = Affine(10.0, 0.0, EAST, 0.0, -10.0, NORTH + 3000.0)
    estate.ground((300.0 + 0.5 * column - 0.3 * row).astype(np.float32), transform=cells)
    return estate


def test_more_posts_than_anybody_plans_at_once(large: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(job_size, "memory_there", lambda: 1e12)
    large.settings["rows"]["spacing_m"] = 1.0
    (sentence,), code = large.refusal()
    assert code == Exit.BAD_INPUT
    assert sentence.replace("\u202f", " ") == (
        "block.geojson, block B01: it needs about 1 480 700 posts, 18.1 GB of memory and 74 minutes of one processor; "
        "at most 1 000 000 posts are planned at once; "
        "divide the block, or set rows.spacing_m or posts.max_span_m larger"
    )


def test_more_memory_than_there_is(large: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(job_size, "memory_there", lambda: 2e9)
    large.settings["rows"]["spacing_m"] = 2.0
    (sentence,), code = large.refusal()
    assert code == Exit.BAD_INPUT
    assert "posts, 9.2 GB of memory and 37 minutes of one processor; this machine has 2.0 GB; divide" in sentence


def test_blocks_that_are_too_large_together(estate: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    """Each for itself would do: it is the sum that is told, and that fewer at once would go."""
    estate.named("one", "two")
    monkeypatch.setattr(job_size, "_BYTES_BEFORE", 0)
    inputs = estate.read()
    each = [job_size.JobSize.of(block, load_config(estate.config())).memory for block in inputs.blocks]
    monkeypatch.setattr(job_size, "memory_there", lambda: 0.9 * sum(each))
    (sentence,), code = estate.refusal()
    assert code == Exit.BAD_INPUT
    assert sentence.startswith("block.geojson: 2 blocks together need about ")
    assert sentence.endswith("; plan fewer blocks at once")


def test_a_block_that_is_too_large_costs_itself_alone(estate: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    estate.named("one", "two")
    monkeypatch.setattr(job_size, "_BYTES_BEFORE", 0)
    config = load_config(estate.config())
    large, small = (job_size.JobSize.of(block, config).memory for block in estate.read().blocks)
    assert small < large
    monkeypatch.setattr(job_size, "memory_there", lambda: 1.1 * small)
    inputs = estate.read()
    assert [block.block_id for block in inputs.blocks] == ["two"]
    (missing,) = inputs.missing
    assert "it needs about" in missing.reason


def test_what_the_machine_has() -> None:
    assert 1e8 < memory_there() < 1e14
