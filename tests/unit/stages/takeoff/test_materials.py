"""What to buy and what to take to every zone: counted by hand, nothing lost between zones and order."""

import datetime as dt
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wirerun import tables
from wirerun.errors import Faults, ModelError
from wirerun.findings import Finding, Findings
from wirerun.read.catalogue import read_catalogue
from wirerun.records import Stock
from wirerun.result.coil_tables import coil_table, wire_lines, wire_spans
from wirerun.settings import Catalogue, CoilSettings, Config, WorkSettings
from wirerun.settings.catalogue import AdjusterItem, PostItem, RateItem, SpareItem, ToolItem, WireEndItem, WireItem
from wirerun.settings.fixing_item import FixingItem
from wirerun.stages.takeoff.coils import cut_coils

from tests.unit.stages.written_down import Planned, materials_of, nothing

ORIGIN: dict[str, Any] = {"source": "offer of a merchant", "date": dt.date(2025, 1, 31)}
CONFIG = Config.model_validate(
    {
        "name": "small",
        "block": {"boundary": "block.geojson"},
        "elevation": {"raster": "ground.tif"},
        "rows": {"bearing_deg": 90.0, "spacing_m": 2.4},
        "wires": [
            {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "diameter_mm": 4.0},
            {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2},
        ],
    }
)


def clip(name: str, price: float | None, fastener_price: float | None, **changes: object) -> FixingItem:
    fields = {
        "kind": "screw-fixed clip",
        "holds": "both",
        "lets_go_n": 400.0,
        "fixes_to": "timber",
        "fastener": "screw",
        "fasteners": 2,
        "fastener_kind": "screw",
        "shank": "threaded",
        "fastener_diameter_mm": 4.0,
        "fastener_length_mm": 26.0,
        "driven": "screwdriver",
        "net_safe": True,
        "tool": "drill driver",
        "minutes": 0.5,
    }
    return FixingItem.model_validate(
        {"id": name, **fields, "price": price, "fastener_price": fastener_price, **ORIGIN, **changes}
    )


def staple(name: str, price: float | None) -> FixingItem:
    changes = {"kind": "formed staple", "fastener": "", "fasteners": 1, "fastener_kind": "staple", "shank": "ringed"}
    return clip(name, price, None, **changes, driven="hand", tool="hammer and setting tool")


def post(name: str, kind: str, price: float | None) -> PostItem:
    sizes = {"length_m": 2.5, "depth_m": 0.6, "width_mm": 80.0, "pull_out_n": 883.0, "minutes": 7.0}
    timber = {"material": "timber", "specific_gravity": 0.46, "tool": "auger and rammer"}
    return PostItem.model_validate({"id": name, "kind": kind, **sizes, **timber, "price": price, **ORIGIN})


def wire(name: str = "thin", **changes: object) -> WireItem:
    fields = {"diameter_mm": 2.5, "grade": "high tensile", "breaking_n": 6650.0, "coil_kg": 25.0, "coil_m": 648.0}
    return WireItem.model_validate({"id": name, **fields, "price": 79.0, **ORIGIN, **changes})


def end(name: str, use: str, pieces: int, price: float | None, tool: str = "") -> WireEndItem:
    return WireEndItem.model_validate(
        {"id": name, "use": use, "pieces": pieces, "price": price, "tool": tool, **ORIGIN}
    )


def rate(task: str, per: str, tool: str) -> RateItem:
    return RateItem.model_validate({"id": task, "per": per, "minutes": 1.0, "tool": tool, **ORIGIN})


def spares(**percent: float) -> tuple[SpareItem, ...]:
    return tuple(
        SpareItem.model_validate({"id": k.replace("_", " "), "percent": p, **ORIGIN}) for k, p in percent.items()
    )


def catalogue(**changes: object) -> Catalogue:
    fields: dict[str, Any] = {
        "wire": (wire(),),
        "fixings": (clip("closing clip, two screws", 0.36, 0.03), staple("ringed staple", 0.12)),
        "adjusters": (
            AdjusterItem(id="strainer", most_mm=600.0, tail_m=0.6, tool="handle", minutes=6.0, price=3.4, **ORIGIN),
        ),
        "posts": (post("stout", "end", 13.5), post("slim", "intermediate", 4.6)),
        "wire_ends": (
            end("end staple", "end staple", 2, 0.09, "hammer"),
            end("dear sleeve", "tie-off", 1, 0.5),
            end("two clamps", "tie-off", 2, 0.07, "pliers"),
            end("joiner", "join", 1, 0.48),
        ),
        "rates": (rate("tie off", "wire end", "pliers, cutter"), rate("join", "join", "vice")),
        "spares": spares(post=2.0, wire=3.0, clip=5.0, fastener=10.0),
    }
    return Catalogue(**(fields | changes))


def plan(wires: pd.DataFrame | None = None) -> Planned:
    """Two rows of 3 and 2 posts in two zones.

    The fixed wire has no item in the catalogue; the foliage wire has two lines, each with a strainer in row 2.
    """
    rows = pd.DataFrame({"row_id": ["R1", "R2"], "block_id": "B01", "zone_id": ["Z01", "Z02"]})
    posts = pd.DataFrame(
        {
            "row_id": ["R1", "R1", "R1", "R2", "R2"],
            "kind": ["end", "intermediate", "end", "end", "end"],
            "post_item": ["stout", "slim", "stout", "stout", None],
            "end_item": None,
        }
    )
    clips = pd.DataFrame(
        [
            ("R1", "fruiting", "staple", "over", 1, "ringed staple"),
            ("R1", "lower", "two-way", "under", 8, "closing clip, two screws"),
            ("R2", "lower", "two-way", "over", 4, "closing clip, two screws"),
            ("R2", "lower", "one-way", "over", 4, None),
        ],
        columns=["row_id", "wire_id", "clip", "seat", "pieces", "fixing"],
    )
    if wires is None:
        wires = pd.DataFrame(
            [
                ("R1", "fruiting", 1, 30.0, 1.0, None),
                ("R1", "lower", 2, 30.0, 1.0, "thin"),
                ("R2", "fruiting", 1, np.nan, 1.0, None),
                ("R2", "lower", 2, 20.0004, 1.6, "thin"),
            ],
            columns=["row_id", "wire_id", "lines", "cut_m_per_line", "tails_m_per_line", "wire_item"],
        ).assign(ends_move="no")
    adjusters = pd.DataFrame({"row_id": "R2", "wire_id": "lower", "line": [1, 2], "kind": "strainer"})
    coils = pd.DataFrame(
        [
            ("C001", "thin", "R1", "lower", 1, 0.0, 31.0, "no", 648.0, 542.799, "yes", 1, np.nan, None, "no"),
            ("C001", "thin", "R1", "lower", 2, 31.0, 62.0, "no", 648.0, 542.799, "yes", 1, np.nan, None, "no"),
            ("C001", "thin", "R2", "lower", 1, 62.0, 83.601, "no", 648.0, 542.799, "yes", 1, np.nan, None, "no"),
            ("C001", "thin", "R2", "lower", 2, 83.601, 105.201, "no", 648.0, 542.799, "yes", 1, np.nan, None, "no"),
        ],
        columns=[
            name for name in tables.COILS.names if name not in ("zone_id", "with_line", "from_stock", "stock_tag")
        ],
    )
    coils.loc[3, "to_m"] = 105.202
    return Planned(rows, posts, clips, wires, adjusters, coils)


def cut(wires: pd.DataFrame, rows: pd.DataFrame, known: Catalogue, **settings: object) -> pd.DataFrame:
    """Return what the wires of a plan are cut from."""
    coils, work, rows = CoilSettings.model_validate(settings), WorkSettings(), rows.assign(slope_pct=0.0)
    made = cut_coils(
        wire_lines(wires, rows, work), wire_spans(tables.empty(tables.SPANS)), known, coils, work, Findings()
    )
    return coil_table(made, rows.set_index("row_id")["zone_id"], Stock.nothing())


def changed(planned: Planned, **tables_: pd.DataFrame) -> Planned:
    fields = {name: getattr(planned, name) for name in ("rows", "posts", "clips", "wires", "adjusters", "coils")}
    return Planned(**(fields | tables_))


def made(
    planned: Planned | None = None, known: Catalogue | None = None
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    materials, zones, findings = materials_of(planned or plan(), CONFIG, known or catalogue())
    return materials.set_index("item"), zones, findings


def test_a_small_plan_counted_by_hand() -> None:
    """Ends: row 1 has 3 lines, row 2 has 2 (its fixed wire has no length): 10 ends, 2 of them with a strainer."""
    materials, _, _ = made()
    assert materials["quantity"].to_dict() == {
        "stout": 3,
        "slim": 1,
        "thin": 1,
        "4 mm wire, not in the catalogue": 0,
        "closing clip, two screws": 12,
        "ringed staple": 1,
        "screw": 24,
        "end staple": 20,
        "two clamps": 16,
        "strainer": 2,
        **dict.fromkeys(["auger", "rammer", "drill driver", "hammer", "setting tool", "pliers", "cutter", "handle"], 1),
    }
    kinds = materials["kind"].to_dict()
    assert [kinds[item] for item in ("closing clip, two screws", "ringed staple", "screw", "strainer", "cutter")] == [
        "clip",
        "staple",
        "fastener",
        "adjuster",
        "tool",
    ]
    assert materials.loc["thin", "length_m"] == 105.202
    assert materials.loc["thin", "mass_kg"] == pytest.approx(105.202 * 25.0 / 648.0, rel=1e-12)
    assert materials.loc["4 mm wire, not in the catalogue", "length_m"] == 31.0
    assert materials["unit"].value_counts().to_dict() == {"piece": 16, "coil": 2}


def test_spares_are_whole_pieces_rounded_up_and_no_kind_without_a_percentage_has_any() -> None:
    materials, _, _ = made()
    spare = materials["spare_quantity"]
    assert spare["stout"] == 1  # 2 % of 3
    assert spare["closing clip, two screws"] == 1  # 5 % of 12
    assert spare["screw"] == 3  # 10 % of 24
    assert spare["end staple"] == spare["strainer"] == spare["hammer"] == 0


def test_an_exact_percentage_gets_no_piece_more() -> None:
    """2.2 % of 1000 clips is 22; in floats 1000 x 2.2 / 100 is a hair more."""
    clips = plan().clips.iloc[1:2].assign(pieces=1000)
    materials, _, _ = made(changed(plan(), clips=clips), catalogue(spares=spares(clip=2.2)))
    assert materials.loc["closing clip, two screws", "spare_quantity"] == 22


@pytest.mark.parametrize(("percent", "extra"), [(3.0, 0), (100.0, 0), (60.0, 1), (100.0, 1)])
def test_spare_coils_are_what_the_remainders_lack(percent: float, extra: int) -> None:
    """105.202 m are used. A remainder of 542.8 m that can be kept is spare enough; without it one coil is."""
    coils = plan().coils.assign(remainder_usable="no" if extra else "yes")
    materials, _, _ = made(changed(plan(), coils=coils), catalogue(spares=spares(wire=percent)))
    assert materials.loc["thin", "spare_quantity"] == extra


def test_many_spare_coils() -> None:
    """10 coils of 100 m used up to 95 m: 19 % of 950 m is 180.5 m; 5 remainders that may be kept have 25 m: 2 coils."""
    coils = pd.DataFrame(
        {
            "coil_id": [f"C{n:03d}" for n in range(10)],
            "wire_item": "thin",
            "row_id": "R1",
            "wire_id": "lower",
            "line": range(10),
            "from_m": 0.0,
            "to_m": 95.0,
            "joined": "no",
            "coil_m": 100.0,
            "remainder_m": 5.0,
            "remainder_usable": ["yes", "no"] * 5,
        }
    )
    materials, _, _ = made(changed(plan(), coils=coils), catalogue(spares=spares(wire=19.0)))
    assert materials.loc[["thin"], ["quantity", "spare_quantity"]].to_numpy().tolist() == [[10, 2]]


def test_prices_and_totals_as_printed() -> None:
    materials, _, _ = made()
    assert materials.loc["screw", "total"] == 0.81  # 27 x 0.03
    assert materials.loc["thin", "total"] == 79.0
    assert materials.loc["stout", "total"] == 54.0
    assert materials.loc["stout", "price_source"] == "offer of a merchant, 2025-01-31"
    tools = materials[materials["kind"] == "tool"]
    assert tools["unit_price"].isna().all()
    assert tools["price_source"].isna().all()


def test_prices_are_taken_to_a_hundredth_of_a_cent() -> None:
    """0.12345 is 0.1235, as printed: 2000 staples are 247.00, neither 246.90 nor 246.00."""
    clips = plan().clips.iloc[:1].assign(pieces=2000)
    bought = made(changed(plan(), clips=clips), catalogue(fixings=(staple("ringed staple", 0.12345),)))[0]
    assert bought.loc[["ringed staple"], ["unit_price", "total"]].to_numpy().tolist() == [[0.1235, 247.0]]


@given(price=st.floats(0.0, 1e6), pieces=st.integers(1, 10**6))
@settings(max_examples=25, deadline=None)
def test_the_total_is_that_of_the_printed_price_to_the_cent(price: float, pieces: int) -> None:
    """Python's decimals are the second opinion."""
    clips = plan().clips.iloc[:1].assign(pieces=pieces)
    known = catalogue(fixings=(staple("ringed staple", price),))
    bought = made(changed(plan(), clips=clips), known)[0].loc["ringed staple"]
    exact = Decimal(f"{bought['unit_price']:.4f}") * pieces
    assert f"{bought['total']:.2f}" == str(exact.quantize(Decimal("0.01"), ROUND_HALF_UP))


def test_what_is_sold_in_packs_is_ordered_in_whole_ones() -> None:
    """27 screws with the spares in boxes of 20 are two boxes, 40 screws at 0.03; 13 clips in bags of 13 are one bag."""
    clips = clip("closing clip, two screws", 0.36, 0.03, pack=13, fastener_pack=20)
    materials, zones, _ = made(known=catalogue(fixings=(clips, staple("ringed staple", 0.12))))
    columns = ["quantity", "spare_quantity", "pack", "packs", "total"]
    assert materials.loc[["screw"], columns].to_numpy().tolist() == [[24, 3, 20, 2, 1.2]]
    assert materials.loc[["closing clip, two screws"], columns].to_numpy().tolist() == [[12, 1, 13, 1, 4.68]]
    assert materials.loc[["stout"], columns].to_numpy().tolist() == [[3, 1, 1, 4, 54.0]]
    assert materials.loc[["4 mm wire, not in the catalogue"], ["pack", "packs"]].to_numpy().tolist() == [[1, 0]]
    check_sums(materials.reset_index(), zones)  # zones get what they use


def test_each_item_is_ordered_of_its_supplier_else_with_its_kind() -> None:
    own = {"supplier": "Ana & Sons"}
    fixings = (clip("closing clip, two screws", 0.36, 0.03, **own), staple("ringed staple", 0.12))
    known = catalogue(wire=(wire(**own),), fixings=fixings)
    supplier = made(known=known)[0]["supplier"]
    assert supplier[["thin", "closing clip, two screws", "screw"]].tolist() == ["Ana & Sons"] * 3
    assert supplier[["stout", "two clamps", "strainer", "pliers", "4 mm wire, not in the catalogue"]].tolist() == [
        "posts and ends",
        "fittings",
        "fittings",
        "tools",
        "wire",
    ]


def test_a_clip_mounted_upside_down_comes_in_the_packs_of_the_clip() -> None:
    upright = clip("open clip", 0.2, None, holds="down", fastener="", fasteners=1, pack=50)
    turned = clip("open clip, turned", 0.2, None, holds="up", fastener="", fasteners=1, sold_as="open clip")
    clips = plan().clips.assign(fixing="open clip, turned")
    materials, _, _ = made(changed(plan(), clips=clips), catalogue(fixings=(turned, upright)))
    columns = ["quantity", "spare_quantity", "pack", "packs"]
    assert materials.loc[["open clip"], columns].to_numpy().tolist() == [[17, 1, 50, 1]]


def test_what_an_item_is_for() -> None:
    words = made()[0]["used_for"]
    assert words["closing clip, two screws"] == "4 two-way over; 8 two-way under; wires lower"
    assert words["ringed staple"] == "1 staple over; wires fruiting"
    assert words["stout"] == "3 as end post"
    assert words["thin"] == "wires lower"
    assert words["end staple"] == "20 for end staple; wires fruiting, lower"
    assert words["hammer"] == "end staple; ringed staple"
    assert words["cutter"] == "tie off"


def test_the_list_of_each_zone() -> None:
    _, zones, _ = made()
    quantity = zones.set_index(["zone_id", "item"])["quantity"]
    assert quantity["Z01"].to_dict() == {
        "stout": 2,
        "slim": 1,
        "thin": 62.0,
        "4 mm wire, not in the catalogue": 31.0,
        "closing clip, two screws": 8,
        "ringed staple": 1,
        "screw": 16,
        "end staple": 12,
        "two clamps": 12,
        **dict.fromkeys(["auger", "rammer", "drill driver", "hammer", "setting tool", "pliers", "cutter"], 1),
    }
    assert quantity["Z02"].to_dict() == {
        "stout": 1,
        "thin": 43.202,
        "closing clip, two screws": 4,
        "screw": 8,
        "end staple": 8,
        "two clamps": 4,
        "strainer": 2,
        **dict.fromkeys(["auger", "rammer", "drill driver", "hammer", "pliers", "cutter", "handle"], 1),
    }
    assert zones["unit"][zones["item"] == "thin"].tolist() == ["m", "m"]


def check_sums(materials: pd.DataFrame, zones: pd.DataFrame) -> None:
    """The zones add up to the order: pieces to the piece, wire to the millimetre."""
    kept = zones[zones["kind"] != "tool"]
    summed = kept.groupby(["kind", "item"])["quantity"].sum()
    ordered = materials[materials["kind"] != "tool"].set_index(["kind", "item"])
    wanted = ordered["length_m"].fillna(ordered["quantity"])
    pd.testing.assert_series_equal(summed.round(3), wanted, check_names=False)
    assert set(zones.loc[zones["kind"] == "tool", "item"]) == set(materials.loc[materials["kind"] == "tool", "item"])


def test_zones_add_up_to_the_order() -> None:
    materials, zones, _ = made()
    check_sums(materials.reset_index(), zones)


def test_a_use_without_a_zone_is_refused_not_lost() -> None:
    with pytest.raises(ModelError, match="the row R2 is not among the rows"):
        made(changed(plan(), rows=plan().rows.iloc[:1]))


def test_an_adjuster_that_no_kind_reaches_leaves_its_tie_off() -> None:
    adjusters = plan().adjusters.assign(kind=np.array(["strainer", None], dtype=object))
    materials, _, _ = made(changed(plan(), adjusters=adjusters))
    assert materials.loc["strainer", "quantity"] == 1
    assert materials.loc["two clamps", "quantity"] == 18


def test_an_adjuster_on_a_wire_that_is_not_strung_takes_no_tie_off() -> None:
    """One more on the fixed wire of row 2, which has no length: three in all, and as many ends as before."""
    more = plan().adjusters.iloc[:1].assign(wire_id="fruiting")
    materials, _, _ = made(changed(plan(), adjusters=pd.concat([plan().adjusters, more], ignore_index=True)))
    assert materials.loc["strainer", "quantity"] == 3
    assert materials.loc["two clamps", "quantity"] == 16


def test_tools_are_one_for_the_crew_or_for_each_person_and_bought_one_by_one() -> None:
    """A crew of three: pliers for each at 12.50, one vice at 30, which goes along whatever the task."""
    fields: dict[str, Any] = {"source": "a merchant", "date": dt.date(2025, 1, 31)}
    tools = (
        ToolItem(id="pliers", per="person", always=False, price=12.5, **fields),
        ToolItem(id="vice", per="crew", always=True, price=30.0, **fields),
    )
    materials, zones, _ = made(known=catalogue(tools=tools))
    columns = ["quantity", "pack", "packs", "total"]
    assert materials.loc[["pliers", "vice"], columns].to_numpy().tolist() == [[3, 1, 3, 37.5], [1, 1, 1, 30.0]]
    assert materials.loc["vice", "used_for"] == "every task"
    assert zones.loc[zones["item"] == "pliers", "quantity"].tolist() == [3, 3]
    assert zones.loc[zones["item"] == "vice", "quantity"].tolist() == [1, 1]


def test_joins_are_counted_by_line_and_bring_their_tool() -> None:
    """One line of row 2 in three pieces: two joins."""
    coils = plan().coils
    pieces = coils.iloc[[0, 1, 2, 3, 3, 3]].assign(
        coil_id=["C001", "C001", "C001", "C002", "C003", "C004"],
        from_m=[0.0, 31.0, 62.0, 0.0, 0.0, 0.0],
        to_m=[31.0, 62.0, 83.601, 7.0, 7.0, 7.601],
        joined=["no", "no", "no", "yes", "yes", "yes"],
    )
    materials, zones, _ = made(changed(plan(), coils=pieces))
    assert materials.loc["joiner", "quantity"] == 2
    assert materials.loc["vice", "used_for"] == "join"
    assert zones.loc[zones["item"] == "vice", "zone_id"].tolist() == ["Z02"]
    assert materials.loc["thin", "quantity"] == 4


def test_a_tie_off_without_pieces_is_not_bought_but_keeps_its_tool() -> None:
    known = catalogue(wire_ends=(end("knot", "tie-off", 0, None, "gloves"), end("end staple", "end staple", 2, 0.09)))
    materials, _, findings = made(known=known)
    assert "knot" not in materials.index
    assert materials.loc["gloves", "used_for"] == "knot"
    assert [finding.code for finding in findings] == ["no-price"]


def test_one_thing_under_several_kinds_is_one_line_at_the_highest_price() -> None:
    """A staple bought as fixing and for wire ends, and a screw that two clips name at unlike prices."""
    clips = plan().clips.assign(
        fixing=np.array(["ringed staple", "closing clip, two screws", "open clip", None], dtype=object)
    )
    fixings = (
        clip("closing clip, two screws", 0.36, 0.03, fastener_pack=2),
        clip("open clip", 0.2, 0.035, fasteners=1, fastener_pack=7),
        staple("ringed staple", 0.12),
    )
    ends = (end("ringed staple", "end staple", 2, 0.11), end("knot", "tie-off", 0, None))
    materials, zones, _ = made(changed(plan(), clips=clips), catalogue(fixings=fixings, wire_ends=ends))
    both = materials.loc["ringed staple"]
    assert (both["kind"], both["quantity"], both["unit_price"]) == ("staple", 21, 0.12)
    assert both["used_for"] == "20 for end staple; 1 staple over; wires fruiting, lower"
    screw = materials.loc["screw"]
    assert (screw["quantity"], screw["unit_price"], screw["pack"]) == (20, 0.035, 7)  # the pack goes with the price
    assert screw["price_source"] == "offer of a merchant, 2025-01-31; the highest of several prices"
    assert zones.loc[zones["item"] == "ringed staple", ["zone_id", "kind", "quantity"]].to_numpy().tolist() == [
        ["Z01", "staple", 13],
        ["Z02", "staple", 8],
    ]
    check_sums(materials.reset_index(), zones)


def test_the_price_of_a_clip_that_is_not_used_counts_for_nothing() -> None:
    fixings = (*catalogue().fixings, clip("open clip", 0.2, 9.99))
    assert made(known=catalogue(fixings=fixings))[0].loc["screw", "unit_price"] == 0.03


def test_what_has_no_price_is_told_and_tools_are_not() -> None:
    materials, _, findings = made(
        known=catalogue(posts=(post("stout", "end", None), post("slim", "intermediate", 4.6)))
    )
    said = {finding.code: finding.message for finding in findings}
    assert said == {
        "no-price": '2 items have no price; costs leave them out: "stout", "4 mm wire, not in the catalogue".'
    }
    assert materials["total"].isna()["stout"]


def test_a_catalogue_without_any_price_makes_a_list_all_the_same() -> None:
    ends = (end("end staple", "end staple", 2, None), end("sleeve", "tie-off", 1, None))
    fixings = (clip("closing clip, two screws", None, None), staple("ringed staple", None))
    posts = (post("stout", "end", None), post("slim", "intermediate", None))
    known = catalogue(wire=(wire(price=None),), fixings=fixings, posts=posts, wire_ends=ends, adjusters=())
    materials, zones, _ = made(known=known)
    check_sums(materials.reset_index(), zones)
    assert materials["total"].isna().all()
    assert materials["price_source"].isna().all()
    assert materials.loc["strainer", "quantity"] == 2


def test_what_is_invented_is_told_if_it_is_used() -> None:
    invented = {"source": "length: a label; the rest invented for the demo"}
    unused = (*catalogue().wire, wire("other", **invented))
    assert "demo-prices" not in {finding.code for finding in made(known=catalogue(wire=unused))[2]}
    findings = made(known=catalogue(wire=(wire(**invented),)))[2]
    said = next(finding.message for finding in findings if finding.code == "demo-prices")
    assert "1 item" in said
    assert said.endswith('"thin".')


def test_what_the_catalogue_has_nothing_for_is_told() -> None:
    materials, _, findings = made(known=catalogue(wire_ends=()))
    said = [(finding.place, finding.message) for finding in findings if finding.code == "not-in-catalogue"]
    assert said == [
        ("end staple", "The catalogue has no end staple for 10 places; none is in the materials."),
        ("tie-off", "The catalogue has no tie-off for 8 places; none is in the materials."),
    ]
    assert "wire end" not in set(materials["kind"])


def test_a_plan_without_rows_needs_nothing() -> None:
    materials, zones, findings = materials_of(nothing(), CONFIG, catalogue())
    assert materials.empty
    assert zones.empty
    assert findings == []


@st.composite
def plans(draw: st.DrawFn) -> Planned:
    """Rows in zones, with any numbers of posts, clips and lines; wires cut from real coils."""
    count = draw(st.integers(1, 8))
    rows = pd.DataFrame({"row_id": [f"B01-R{n:03d}" for n in range(1, count + 1)], "block_id": "B01"})
    rows["zone_id"] = [f"Z{draw(st.integers(1, 3))}" for _ in range(count)]
    row = rows["row_id"].to_numpy()[draw(st.lists(st.integers(0, count - 1), min_size=1, max_size=30))]
    items = st.sampled_from(["closing clip, two screws", "open clip", "ringed staple", None])
    clips = pd.DataFrame({"row_id": row, "wire_id": "lower", "clip": "two-way", "seat": "over"})
    clips["pieces"] = np.array([draw(st.integers(1, 8)) for _ in row], dtype="int64")
    clips["fixing"] = pd.Series([draw(items) for _ in row], dtype="str")
    posts = pd.DataFrame({"row_id": row, "kind": "end", "post_item": "stout", "end_item": None})
    wires = pd.DataFrame({"row_id": rows["row_id"], "wire_id": "lower", "tails_m_per_line": 0.75})
    wires["lines"] = np.array([draw(st.integers(1, 2)) for _ in range(count)], dtype="int64")
    wires["cut_m_per_line"] = [draw(st.floats(5.0, 900.0)) for _ in range(count)]
    wires["wire_item"] = pd.Series([draw(st.sampled_from(["thin", None])) for _ in range(count)], dtype="str")
    wires["ends_move"] = "no"
    coils = cut(wires, rows, catalogue(), joins=draw(st.booleans()))
    adjusters = pd.DataFrame({"row_id": row[:1], "wire_id": "lower", "line": [1], "kind": "strainer"})
    return Planned(rows, posts, clips, wires, adjusters, coils)


@settings(max_examples=25, deadline=None)
@given(plans())
def test_nothing_is_lost_in_any_plan(planned: Planned) -> None:
    """A twin that walks through the plan line by line."""
    fixings = (*catalogue().fixings, clip("open clip", 0.2, 0.03, fasteners=1))
    known = catalogue(fixings=fixings)
    materials, zones, _ = materials_of(planned, CONFIG, known)
    check_sums(materials, zones)
    twin: dict[str, int] = {"stout": len(planned.posts), "strainer": 1, "end staple": 0, "two clamps": -2}
    each = {fixing.id: fixing.fasteners for fixing in fixings if fixing.fastener}
    for fixing, pieces in planned.clips[["fixing", "pieces"]].itertuples(index=False):
        if isinstance(fixing, str):
            twin[fixing] = twin.get(fixing, 0) + pieces
            if fixing in each:
                twin["screw"] = twin.get("screw", 0) + each[fixing] * pieces
    for lines in planned.wires["lines"]:
        twin["end staple"] += 2 * 2 * lines
        twin["two clamps"] += 2 * 2 * lines
    for _, pieces in planned.coils.groupby(["row_id", "wire_id", "line"]):
        if len(pieces) > 1:
            twin["joiner"] = twin.get("joiner", 0) + len(pieces) - 1
    counted = materials[~materials["kind"].isin(["tool", "wire"])].set_index("item")["quantity"]
    assert counted.to_dict() == twin
    mm = np.ceil(1000.0 * (planned.wires["cut_m_per_line"] + 0.75) - 1e-6) * planned.wires["lines"]
    assert materials["length_m"].sum() == pytest.approx(mm.sum() / 1000.0, abs=1e-6)


def test_the_catalogue_of_the_program_prices_all_that_it_has() -> None:
    """Every kind of thing that comes with the program, in one plan."""
    faults = Faults()
    known, _ = read_catalogue(None, Path(), faults)
    assert not faults
    rows = pd.DataFrame({"row_id": ["B01-R001"], "block_id": "B01", "zone_id": "Z01"})
    row = "B01-R001"
    posts = pd.DataFrame({"row_id": row, "kind": "end", "post_item": [item.id for item in known.posts]})
    posts["end_item"] = pd.Series([item.id for item in known.ends])
    clips = pd.DataFrame({"row_id": row, "wire_id": "w0", "fixing": [item.id for item in known.fixings]})
    clips = clips.assign(clip="two-way", seat="over", pieces=10)
    wires = pd.DataFrame({"row_id": row, "wire_item": [item.id for item in known.wire]})
    wires["wire_id"] = [f"w{n}" for n in range(len(wires))]
    wires = wires.assign(lines=1, cut_m_per_line=1000.0, tails_m_per_line=1.0, ends_move="yes")
    adjusters = pd.DataFrame({"row_id": row, "kind": [item.id for item in known.adjusters]})
    adjusters["wire_id"] = [f"w{n}" for n in range(len(adjusters))]
    coils = cut(wires, rows, known)
    planned = Planned(rows, posts, clips, wires, adjusters, coils)
    materials, zones, findings = materials_of(planned, CONFIG, known)
    check_sums(materials, zones)
    assert [finding.code for finding in findings] == ["demo-prices"]
    hooks = [item.id for item in known.fixings if item.kind == "hook"]
    assert set(materials.set_index("item").loc[hooks, "kind"]) == {"clip"}
    assert materials.loc[materials["kind"] != "tool", "total"].notna().all()
