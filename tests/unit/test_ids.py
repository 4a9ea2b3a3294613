"""Ids made and taken apart."""

import numpy as np
import pytest
from wirerun.ids import row_ids, row_parts


@pytest.mark.parametrize("number", [1, 12, 999, 1000])
@pytest.mark.parametrize("piece", [0, 1, 2, 25, 26, 300])
def test_an_id_can_be_taken_apart_again(number: int, piece: int) -> None:
    for block in ("B01", "NORTH-R1", "x"):
        (row_id,) = row_ids(block, np.array([number]), np.array([piece]))
        assert row_parts(row_id, block) == (number, piece)


@pytest.mark.parametrize(
    "text", ["", "B01", "B01-R", "B01-R1a", "B01-R1bb", "B02-R001", "R001", "B01-R001-P001", "B01-R-1"]
)
def test_what_is_no_row_of_the_block_has_no_parts(text: str) -> None:
    assert row_parts(text, "B01") is None
