"""What rows of the catalogue have in common."""

import datetime as dt
from typing import Annotated, Final

from pydantic import Field

from wirerun.settings.section import TextRow

ItemId = Annotated[str, Field(min_length=1, max_length=60, description="Name of the item, used once in the file.")]
Price = Annotated[float, Field(ge=0.0, le=1e6)]
Minutes = Annotated[float, Field(ge=0.0, le=10_000.0)]

DEMO: Final = "invented for the demo"


class CatalogueRow(TextRow):
    """What every row of the catalogue has: where it comes from."""

    source: str = Field(min_length=3, max_length=300, description="Where the row comes from.")
    date: dt.date = Field(
        ge=dt.date(1900, 1, 1), lt=dt.date(2200, 1, 1), description="Day the row was read or offered, YYYY-MM-DD."
    )


class SoldItem(CatalogueRow):
    """What is bought of somebody."""

    supplier: str = Field(
        "", max_length=60, description="Who sells it, or what it is ordered with. Empty: grouped by what it is."
    )


class PackedItem(SoldItem):
    """What is bought by the piece or by the pack."""

    pack: int = Field(1, ge=1, le=1_000_000, description="Pieces in a pack, where it is sold in whole packs only.")


def one_of(value: str, allowed: tuple[str, ...], of: str) -> None:
    """Refuse a value that does not go with what another column says."""
    if value not in allowed:
        msg = f'"{value}" does not go with {of}; allowed: {", ".join(allowed)}'
        raise ValueError(msg)
