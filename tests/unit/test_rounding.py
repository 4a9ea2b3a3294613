"""One rule for every number that is printed: in arrays, one by one, on cards, on the map, in the schedule.

The page's own half of the rule is tested with the same cases in `tests/page/units.test.js`.
"""

from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from wirerun import wording
from wirerun.rounding import half_up, rounded
from wirerun.tables import Column, Table
from wirerun.units import fixed
from wirerun.write.html_map.columns import pack_numbers
from wirerun.write.schedule import csv_bytes

# As a person writes them, with the decimals they are to be printed with.
CASES = [("23.05", 1), ("22.95", 1), ("0.285", 2), ("1.005", 2), ("2.5", 0), ("3.5", 0), ("-0.25", 1), ("-0.04", 1)]


def by_hand(written: str, decimals: int) -> str:
    """Python's decimals round what is written, not what a double holds."""
    found = Decimal(written).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)
    return f"{found + 0:f}" if found else f"{abs(found):f}"


@pytest.mark.parametrize(("written", "decimals"), CASES)
def test_a_number_prints_the_same_everywhere(written: str, decimals: int) -> None:
    value, wanted = float(written), by_hand(written, decimals)
    assert f"{rounded(value, decimals):.{decimals}f}" == wanted
    assert wording.number(value, decimals) == wanted
    assert fixed(value, decimals) == wanted
    assert f"{pack_numbers([value], decimals)['values'][0]:.{decimals}f}" == wanted
    table = Table("one", "", (), (Column("value", "number", "", "", decimals),))
    assert csv_bytes(table, pd.DataFrame({"value": [value]})).decode("utf-8-sig") == f"value\r\n{wanted}\r\n"


@given(st.integers(-(10**9), 10**9), st.integers(0, 3), st.integers(0, 3))
def test_what_has_few_decimals_is_rounded_as_written(whole: int, has: int, keeps: int) -> None:
    written = Decimal(whole).scaleb(-has)
    assert f"{rounded(float(written), keeps):.{keeps}f}" == by_hand(str(written), keeps)


@given(st.lists(st.integers(0, 10**6), min_size=1, max_size=40))
def test_a_sum_prints_as_what_it_is_the_sum_of(hundredths: list[int]) -> None:
    """Added up in doubles, in any order, hundredths print as added up by hand."""
    values = [one / 100.0 for one in hundredths]
    for some in (values, values[::-1]):
        total = float(np.cumsum(some)[-1])
        assert f"{rounded(total, 1):.1f}" == by_hand(f"{sum(hundredths) / 100:.2f}", 1)


def test_arrays_keep_shape_gaps_and_infinities() -> None:
    found = half_up([[np.nan, np.inf], [-np.inf, 0.05]], 1)
    assert found.shape == (2, 2)
    assert np.isnan(found[0, 0])
    assert found.ravel()[1:].tolist() == [np.inf, -np.inf, 0.1]
    assert [rounded(value) for value in (np.inf, -np.inf)] == [np.inf, -np.inf]
    assert np.isnan(rounded(np.nan))
