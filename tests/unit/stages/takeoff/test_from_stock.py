"""What is taken out of the store, what is bought beside, and what is left: counted by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from wirerun.arrays import words
from wirerun.records import Stock
from wirerun.settings import Catalogue
from wirerun.stages.takeoff.materials import list_materials
from wirerun.stages.takeoff.stock_left import stock_left

from tests.unit.stages.takeoff.test_materials import CONFIG, catalogue, clip, plan, spares, staple
from tests.unit.stages.written_down import Planned, materials_of


def store(parts: tuple[tuple[str, int, str | None], ...] = (), **pieces: int) -> Stock:
    """Pieces by item, an underscore for a space; part coils: wire, millimetres, tag."""
    return Stock(
        words(name.replace("_", " ") for name in pieces),
        np.array(list(pieces.values()), dtype=np.int64),
        words(item for item, _, _ in parts),
        np.array([mm for _, mm, _ in parts], dtype=np.int64),
        words(tag for *_, tag in parts),
    )


def in_packs(**changes: object) -> Catalogue:
    """The catalogue with screws in boxes of 20."""
    closing = clip("closing clip, two screws", 0.36, 0.03, fastener_pack=20)
    return catalogue(fixings=(closing, staple("ringed staple", 0.12)), **changes)


def ordered(stock: Stock, known: Catalogue | None = None, planned: Planned | None = None) -> pd.DataFrame:
    return materials_of(planned or plan(), CONFIG, known or in_packs(), stock)[0].set_index("item")


@pytest.mark.parametrize(
    ("there", "taken", "packs", "total"),
    # 24 screws and 3 spares in boxes of 20, 12 of a box at 0.03.
    [(0, 0, 2, 1.2), (7, 7, 1, 0.6), (8, 8, 1, 0.6), (26, 26, 1, 0.6), (27, 27, 0, 0.0), (100, 27, 0, 0.0)],
)
def test_spares_come_out_of_the_store_too_and_only_what_lacks_is_bought_in_packs(
    there: int, taken: int, packs: int, total: float
) -> None:
    made = ordered(store(screw=there))
    columns = ["quantity", "spare_quantity", "in_stock", "to_order", "packs", "total", "stock_worth"]
    assert made.loc[["screw"], columns].to_numpy().tolist() == [
        [24, 3, taken, 27 - taken, packs, total, pytest.approx(0.03 * taken)]
    ]


def test_what_is_taken_out_of_the_store_is_told_with_its_worth() -> None:
    """A coil at 79 and 27 screws at 0.03; a tool without a price is worth nothing that anybody knows."""
    taken = store(thin=1, screw=27, pliers=1)
    _, _, findings = materials_of(plan(), CONFIG, in_packs(), taken)
    (said,) = (finding.message for finding in findings if finding.code == "stock")
    assert said == (
        "3 items are taken out of the stock, worth 79.81 EUR at the catalogue's prices and in no total: "
        '"screw", "pliers", "thin".'
    )
    assert "stock" not in {finding.code for finding in materials_of(plan(), CONFIG, in_packs(), store())[2]}


def test_a_tool_of_the_store_is_not_bought() -> None:
    made = ordered(store(pliers=1, cutter=5))
    assert made["to_order"][["pliers", "cutter", "handle"]].tolist() == [0, 0, 1]
    assert made["in_stock"][["pliers", "cutter", "handle"]].tolist() == [1, 1, 0]


def of_parts(part: list[int]) -> Planned:
    """The small plan, its thin wire from two coils of which some are part coils of 62 m."""
    coils = plan().coils.assign(coil_id=["C001", "C001", "C002", "C002"], from_m=[0.0, 31.0, 0.0, 21.601])
    coils = coils.assign(to_m=[31.0, 62.0, 21.601, 43.202], coil_m=np.where(np.repeat(part, 2) >= 0, 62.0, 648.0))
    coils = coils.assign(part=np.repeat(part, 2), whole_m=648.0, remainder_usable=["no", "no", "yes", "yes"])
    return replace(plan(), coils=coils)


def test_part_coils_that_are_cut_are_in_stock_and_worth_their_length() -> None:
    """One part coil of 62 m of 648: 79 x 62/648 = 7.56. A whole one in stock does for the other."""
    parts = (("thin", 62_000, "blue"),)
    made = ordered(store(parts), planned=of_parts([0, -1])).loc[["thin"]]
    columns = ["quantity", "spare_quantity", "in_stock", "to_order", "total", "stock_worth"]
    assert made[columns].to_numpy().tolist() == [[2, 0, 1, 1, 79.0, 7.56]]
    whole = ordered(store(parts, thin=3), planned=of_parts([0, -1])).loc[["thin"]]
    assert whole[columns].to_numpy().tolist() == [[2, 0, 2, 0, 0.0, 86.56]]


def test_part_coils_that_are_not_cut_count_as_spare() -> None:
    """All of 105.202 m as spare: 604.8 m of a coil that is kept; else 100 m in the store and a coil, or 106 m there."""
    known = in_packs(spares=spares(wire=100.0))
    unkept = replace(of_parts([-1, -1]), coils=of_parts([-1, -1]).coils.assign(remainder_usable="no"))
    assert ordered(store(), known, of_parts([-1, -1])).loc["thin", "spare_quantity"] == 0
    assert ordered(store((("thin", 100_000, None),)), known, unkept).loc["thin", "spare_quantity"] == 1
    assert ordered(store((("thin", 106_000, None),)), known, unkept).loc["thin", "spare_quantity"] == 0


def test_spare_coils_come_out_of_the_store_too() -> None:
    """Two coils are cut and one is spare: three of the five in the store, none to buy."""
    unkept = replace(of_parts([-1, -1]), coils=of_parts([-1, -1]).coils.assign(remainder_usable="no"))
    made = ordered(store(thin=5), in_packs(spares=spares(wire=100.0)), unkept).loc["thin"]
    assert (made["quantity"], made["spare_quantity"], made["in_stock"], made["to_order"]) == (2, 1, 3, 0)


def left(stock: Stock, planned: Planned) -> Stock:
    zone = np.array([0, 1], dtype=np.int64)
    cut = planned.cut()
    made, _, _ = list_materials(planned.job(CONFIG.work, CONFIG), zone, cut, CONFIG, in_packs(), stock)
    return stock_left(stock, made, cut, in_packs())


def test_what_is_left() -> None:
    """Screws: 27 of 7 and a box of 20, none left; of 8 and a box, 1. Tools stay. Part coils by what is left on them."""
    parts = (("thin", 62_000, "blue"), ("thin", 9_000, "red"))
    got = left(store(parts, screw=8, pliers=2, stout=9, thin=4, joiner=3), of_parts([0, -1]))
    pieces = dict(zip(got.item.tolist(), got.pieces.tolist(), strict=True))
    assert pieces["screw"] == 1
    assert pieces["pliers"] == 2
    assert pieces["handle"] == 1
    assert pieces["stout"] == 9 - 4
    assert pieces["thin"] == 4 - 1
    assert pieces["joiner"] == 3
    assert "slim" not in pieces
    assert list(zip(got.part_item, got.part_mm, got.part_tag, strict=True)) == [
        ("thin", 604_798, "C002"),
        ("thin", 9_000, "red"),
    ]


def test_a_coil_that_is_used_up_is_no_part_coil() -> None:
    """However short a remainder the config keeps."""
    used_up = replace(of_parts([-1, -1]), coils=of_parts([-1, -1]).coils.assign(remainder_usable="yes"))
    used_up = replace(used_up, coils=used_up.coils.assign(coil_m=[62.0, 62.0, 648.0, 648.0]))
    got = left(store(), used_up)
    assert list(zip(got.part_item, got.part_mm, got.part_tag, strict=True)) == [("thin", 604_798, "C002")]


def test_an_empty_store_and_an_empty_plan_leave_nothing_but_what_is_bought_beyond() -> None:
    got = left(store(), plan())
    pieces = dict(zip(got.item.tolist(), got.pieces.tolist(), strict=True))
    assert pieces["screw"] == 40 - 27
    assert "closing clip, two screws" not in pieces
