"""What the catalogue asks for what is used, and by whom it is sold."""

from typing import Final, NamedTuple

import numpy as np

from wirerun.rounding import rounded
from wirerun.settings import Catalogue
from wirerun.settings.catalogue_row import DEMO, SoldItem
from wirerun.stages.takeoff.uses import kind_of

_DECIMALS: Final = 4


class Offer(NamedTuple):
    """What a row of the catalogue asks for an item: price of one (NaN: none), pieces in a pack, who sells it, tools."""

    kind: str
    item: str
    price: float
    pack: int
    supplier: str
    source: str
    tool: str
    invented: bool


def offers_for(catalogue: Catalogue, used: set[tuple[str, str]]) -> list[Offer]:
    """Return what the catalogue asks for what is used, a line for each of its rows that sells it.

    Parameters
    ----------
    catalogue : Catalogue
        Its rows.
    used : set of (kind, item)
        A fastener is asked for by the rows of the fixings that are used.
    """
    sold = {fixing.id: fixing for fixing in catalogue.fixings}
    rows: list[tuple[str, str, float | None, int, str, SoldItem]] = [
        *(("post", post.id, post.price, post.pack, post.tool, post) for post in catalogue.posts),
        *(("wire", wire.id, wire.price, 1, "", wire) for wire in catalogue.wire),
        *(
            (kind_of(fixing), fixing.bought_as, fixing.price, sold[fixing.bought_as].pack, fixing.tool, fixing)
            for fixing in catalogue.fixings
        ),
        *(
            ("fastener", fixing.fastener, fixing.fastener_price, fixing.fastener_pack, "", fixing)
            for fixing in catalogue.fixings
            if (kind_of(fixing), fixing.bought_as) in used
        ),
        *(("wire end", end.id, end.price, end.pack, end.tool, end) for end in catalogue.wire_ends),
        *(("end assembly", end.id, end.price, end.pack, end.tool, end) for end in catalogue.ends),
        *(("tool", tool.id, tool.price, 1, "", tool) for tool in catalogue.tools),
        *(("adjuster", gear.id, gear.price, gear.pack, gear.tool, gear) for gear in catalogue.adjusters),
    ]
    return [
        Offer(
            kind,
            item,
            np.nan if price is None else rounded(price, _DECIMALS),
            pack,
            row.supplier,
            f"{row.source}, {row.date}",
            tool,
            DEMO in row.source,
        )
        for kind, item, price, pack, tool, row in rows
        if (kind, item) in used
    ]
