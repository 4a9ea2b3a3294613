"""Ids in the order in which a crew works."""

import pandas as pd
from wirerun.ids import working_order


def test_rows_come_by_number_not_by_letter() -> None:
    ids = pd.Series(["B02-R001", "B01-R1000", "B01-R999", "B01-R012b", "B01-R012", "B01-R012z30", "B01-R012z26"])
    assert list(ids.iloc[working_order(ids)]) == [
        "B01-R012",
        "B01-R012b",
        "B01-R012z26",
        "B01-R012z30",
        "B01-R999",
        "B01-R1000",
        "B02-R001",
    ]


def test_a_block_may_have_a_hyphen_and_an_r_in_its_name() -> None:
    ids = pd.Series(["NORTH-R1-R010", "NORTH-R1-R002"])
    assert list(working_order(ids)) == [1, 0]
