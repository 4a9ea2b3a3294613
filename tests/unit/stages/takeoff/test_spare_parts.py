"""Spare parts of a year, each sum by hand."""

from pathlib import Path

import numpy as np
import pandas as pd
from wirerun.arrays import no_words, words
from wirerun.errors import Faults
from wirerun.model.materials import Materials
from wirerun.read.catalogue import read_catalogue
from wirerun.result.material_tables import spare_part_table
from wirerun.settings import Config
from wirerun.stages.takeoff.spare_parts import spare_parts

_LINES = [
    ("wire", "wire 2.5 mm medium tensile", 20, 12_500.0, 68.0),
    ("clip", "open clip, one staple", 4000, np.nan, 0.1),
    ("fastener", "staple 1.6 x 25", 4000, np.nan, 0.01),
    ("adjuster", "wrap-on tie", 0, np.nan, 0.9),
    ("post", "pine post 80 x 2500", 401, np.nan, 4.6),
    ("tool", "hammer", 3, np.nan, np.nan),
]


def materials() -> Materials:
    kind, item, quantity, length_m, unit_price = (list(column) for column in zip(*_LINES, strict=True))
    none, nothing = np.zeros(len(_LINES), dtype=np.int64), np.full(len(_LINES), np.nan)
    return Materials(
        kind=words(kind),
        item=words(item),
        unit=words(["piece"] * len(_LINES)),
        quantity=np.array(quantity),
        # What is ordered beyond what stands does not wear out.
        spare=none + 7,
        in_stock=none,
        length_m=np.array(length_m),
        mass_kg=nothing,
        used_for=no_words(len(_LINES)),
        unit_price=np.array(unit_price),
        price_source=no_words(len(_LINES)),
        supplier=no_words(len(_LINES)),
        pack=none + 1,
        packs=none,
        total=nothing,
        stock_worth=nothing,
    )


def spares(**repair: float) -> pd.DataFrame:
    config = Config.model_validate(
        {
            "name": "plan",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 90.0, "spacing_m": 2.4},
            "repair": repair,
        }
    )
    parts = spare_parts(materials(), config, read_catalogue(None, Path(), Faults())[0])
    return spare_part_table(parts).set_index("item")


def test_breaks_take_a_piece_and_two_joins_and_the_rest_its_share() -> None:
    made = spares()
    quantity, total = made["quantity"].to_dict(), made["total"].to_dict()
    # 12.5 km at 0.1: 1.25, so two breaks; 2 * (2 * 0.5 + 2 * 0.15) = 2.6 m; four joiners at 0.48.
    assert quantity["wire 2.5 mm medium tensile"] == 3
    assert np.isnan(total["wire 2.5 mm medium tensile"])
    assert (quantity["wire joiner"], total["wire joiner"]) == (4, 1.92)
    # 1 % of 4000: 40 clips, a staple each; 0.5 % of 401: 3 posts.
    assert quantity["open clip, one staple"] == quantity["staple 1.6 x 25"] == 40
    assert (quantity["pine post 80 x 2500"], total["pine post 80 x 2500"]) == (3, 13.8)
    # What there is none of, and tools, are no spare parts.
    assert set(made["kind"]) == {"wire", "wire end", "clip", "fastener", "post"}


def test_no_share_is_no_spare() -> None:
    none = spares(breaks_per_km=0.0, fixings_pct=0.0, posts_pct=0.0, adjusters_pct=0.0)
    assert none.empty
