"""Rows and places as people name them."""

import pytest
from wirerun.rules.row_names import NamedPlace, NamedRow, named_place, named_row, nearest


@pytest.mark.parametrize("called", ["B01-R012", "b01-r12", "B01-12", " R012 ", "12", "0012"])
def test_one_row_has_many_names(called: str) -> None:
    assert named_row(called, ["B01"]) == NamedRow("B01", "B01-R012")


def test_a_piece_of_a_row_and_a_block_with_a_dash() -> None:
    assert named_row("North-2-R007C", ["North-2", "B01"]) == NamedRow("North-2", "North-2-R007c")


@pytest.mark.parametrize(
    ("called", "blocks", "told"),
    [
        ("row x", ["B01"], "this is no row; wanted is one such as B01-R012, or its number"),
        ("B09-R012", ["B01", "B02"], "there is no block B09; there are B01, B02"),
        ("R012", ["B01", "B02"], "there are 2 blocks; which row is meant? B01-R012, B02-R012"),
    ],
)
def test_what_is_no_row_or_may_be_one_of_several_is_told(called: str, blocks: list[str], told: str) -> None:
    assert named_row(called, blocks) == told


def test_posts_are_numbered_from_one_and_a_row_has_one_span_less() -> None:
    row = "B01-R012"
    assert named_place("P001", row, 20) == NamedPlace(is_post=True, number=0)
    assert named_place("p20", row, 20) == NamedPlace(is_post=True, number=19)
    assert named_place("R012-S19", row, 20) == NamedPlace(is_post=False, number=18)
    assert named_place("P0", row, 20) == "row B01-R012 has 20 posts, P001 to P020"
    assert named_place("S020", row, 20) == "row B01-R012 has 19 spans, S001 to S019"
    assert named_place("R013-P001", row, 20) == "that is a place in another row than B01-R012"
    assert str(named_place("20", row, 20)).startswith("this is no place in the row")


def test_a_name_that_is_near_is_asked_for() -> None:
    assert nearest("louver", ["lower", "upper"]) == "; did you mean lower?"
    assert nearest("xyz", ["lower", "upper"]) == ""
