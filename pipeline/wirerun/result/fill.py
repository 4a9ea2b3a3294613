"""How the tables of one block are filled."""

from collections.abc import Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.arrays import BoolArray, TextArray, words
from wirerun.model.block import PlannedBlock
from wirerun.tables import Table

Columns = Mapping[str, NDArray[np.generic] | str | float | int | None]


def fill(table: Table, columns: Columns, later: tuple[str, ...] = ()) -> pd.DataFrame:
    """Frame of a table; every column of the dictionary but those that come `later` must be given."""
    return pd.DataFrame({name: columns[name] for name in table.names if name not in later})


def yes(given: BoolArray) -> TextArray:
    """Yes or no, shape as given."""
    return np.where(given, "yes", "no").astype(object)


def wire_ids(block: PlannedBlock, each: int) -> TextArray:
    """Id of every wire, `each` times, wire by wire."""
    return np.repeat(words([wire.id for wire in block.config.wires]), each)
