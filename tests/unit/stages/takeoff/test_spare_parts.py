"""Spare parts of a year, each sum by hand."""

from pathlib import Path

import numpy as np
import pandas as pd
from wirerun.arrays import no_words, words
from wirerun.errors import Faults
from wirerun.model.materials import Materials
from wirerun.read.catalogue import read_catalogue
from wirerun.result.material_tables import spare_part_table
from wirerun.settings import Catalogue, Config
from wirerun.stages.takeoff.spare_parts import spare_parts

from tests.unit.stages.takeoff.test_materials import clip, end, staple

_Lines = list[tuple[str, str, int, float, float]]
_LINES: _Lines = [
    ("wire", "wire 2.5 mm medium tensile", 20, 12_500.0, 68.0),
    ("clip", "open clip, one staple", 4000, np.nan, 0.1),
    ("fastener", "staple 1.6 x 25", 4000, np.nan, 0.01),
    ("adjuster", "wrap-on tie", 0, np.nan, 0.9),
    ("post", "pine post 80 x 2500", 401, np.nan, 4.6),
    ("tool", "hammer", 3, np.nan, np.nan),
]


def materials(lines: _Lines) -> Materials:
    kind, item, quantity, length_m, unit_price = (list(column) for column in zip(*lines, strict=True))
    none, nothing = np.zeros(len(lines), dtype=np.int64), np.full(len(lines), np.nan)
    return Materials(
        kind=words(kind),
        item=words(item),
        unit=words(["piece"] * len(lines)),
        quantity=np.array(quantity),
        # What is ordered beyond what stands does not wear out.
        spare=none + 7,
        in_stock=none,
        length_m=np.array(length_m),
        mass_kg=nothing,
        used_for=no_words(len(lines)),
        unit_price=np.array(unit_price),
        price_source=no_words(len(lines)),
        supplier=no_words(len(lines)),
        pack=none + 1,
        packs=none,
        total=nothing,
        stock_worth=nothing,
    )


def spares(lines: _Lines = _LINES, known: Catalogue | None = None, **repair: float) -> pd.DataFrame:
    config = Config.model_validate(
        {
            "name": "plan",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 90.0, "spacing_m": 2.4},
            "repair": repair,
        }
    )
    parts = spare_parts(materials(lines), config, known or read_catalogue(None, Path(), Faults())[0])
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


def test_each_part_is_told_with_its_reason() -> None:
    """Joins of two clamps that lap by 40 mm; clips of two screws that last 12 years, or 8 upside down."""
    lines: _Lines = [
        ("wire", "thin", 31, 20_010.0, 79.0),
        ("wire", "thick", 2, 900.0, 60.0),
        ("clip", "closing clip", 1000, np.nan, 0.36),
        ("staple", "ringed staple", 401, np.nan, 0.12),
        ("fastener", "screw", 2000, np.nan, 0.03),
        ("adjuster", "strainer", 50, np.nan, 3.4),
        ("post", "stout", 100, np.nan, 13.5),
    ]
    closing = clip("closing clip", 0.36, 0.03, life_years=12.0)
    turned = clip("closing clip, turned", 0.36, 0.03, life_years=8.0, sold_as="closing clip")
    clamps = end("clamps", "join", 2, 0.07).model_copy(update={"overlap_mm": 40.0})
    known = Catalogue(fixings=(closing, turned, staple("ringed staple", 0.12)), wire_ends=(clamps,))
    made = spares(lines, known, breaks_per_km=0.1, cut_back_m=0.5, fixings_pct=1.1, adjusters_pct=3.0, posts_pct=0.5)
    # Pieces of 1.08 m: three for the 2.001 breaks of 20.01 km. In floats 1.1 % of 1000 is a hair more than 11.
    told = made[["kind", "quantity", "unit", "total", "reason"]].astype(object)
    assert told.where(told.notna(), None).to_dict("index") == {
        item: dict(zip(("kind", "quantity", "unit", "total", "reason"), line, strict=True))
        for item, line in {
            "thin": ("wire", 4, "m", None, "3 breaks in 20.0 km, 0.1 a km and year"),
            "thick": ("wire", 2, "m", None, "1 break in 0.9 km, 0.1 a km and year"),
            "clamps": ("wire end", 16, "piece", 1.12, "two joins for each of 4 breaks"),
            "closing clip": ("clip", 11, "piece", 3.96, "1000, 1.1 % a year; all of them in some 8 years"),
            "screw": ("fastener", 22, "piece", 0.66, "for closing clip"),
            "ringed staple": ("staple", 5, "piece", 0.6, "401, 1.1 % a year"),
            "strainer": ("adjuster", 2, "piece", 6.8, "50, 3 % a year"),
            "stout": ("post", 1, "piece", 13.5, "100, 0.5 % a year"),
        }.items()
    }


def test_without_a_joiner_wire_is_kept_by_the_overlap_of_the_config() -> None:
    """One break: 2 x 0.5 + 2 x 0.6 = 2.2 m, so 3 m; no joiner is listed, and of a knot no price made up."""
    made = spares([("wire", "thin", 1, 10_000.0, 79.0)], Catalogue(), breaks_per_km=0.1, cut_back_m=0.5, overlap_m=0.6)
    assert made["quantity"].to_dict() == {"thin": 3}
    unpriced = Catalogue(wire_ends=(end("knot", "join", 1, None),))
    made = spares([("wire", "thin", 1, 10_000.0, 79.0)], unpriced, breaks_per_km=0.1)
    assert made.loc["knot", "quantity"] == 2
    assert made["total"].isna()["knot"]
