"""The column dictionary's own frames."""

from typing import Final, Literal

import numpy as np
import pandas as pd
import pytest
from wirerun import tables

_Storage = Literal["python", "pyarrow"]
_BOTH: Final[tuple[_Storage, _Storage]] = ("python", "pyarrow")


@pytest.mark.parametrize("first", _BOTH)
def test_a_bare_table_stores_text_as_asked_whatever_was_asked_before(first: _Storage) -> None:
    """In one process `plan` keeps text one way and its user another; the table was kept from whoever came first."""
    for storage in (first, *_BOTH):
        asked = pd.StringDtype(storage, na_value=np.nan)
        with pd.option_context("mode.string_storage", storage):
            bare = tables.empty(tables.ADJUSTERS)
        assert bare.columns.dtype == asked
        assert bare["row_id"].dtype == asked
