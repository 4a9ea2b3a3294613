"""A small plan, made by hand: nothing of the stages is needed to test the writers.

Two rows a block run east on ground that is written down, not computed. It is lopsided on purpose (rows of unlike
length, one section, gaps in the numbers, one row that drops by itself), so that no symmetry hides a swap.
"""

from collections.abc import Callable
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from wirerun import tables
from wirerun.findings import Finding
from wirerun.geometry.shapes import lines_through
from wirerun.records import FrameNote, Plan, Source, finding_table
from wirerun.settings import Catalogue, Config
from wirerun.tables import conform

LON, LAT = -7.51, 41.17
STEP_LON = 6.0 / 83_900.0  # about six metres at that latitude
STEP_LAT = 2.4 / 111_100.0
WIRES = (("fruiting", "staple", 1), ("lower", "one-way", 2))
BLOCK_NAME = 'Encosta, "nova": ção'
LEFT_OUT = "1 row, 21.3 m"
ACCENTED_FILE = "=terraço, norte.geojson"


def make_plan(posts_in_row: tuple[int, ...] = (5, 4), **changes: Any) -> Plan:  # noqa: ANN401 - any field of Plan
    """Return a plan with one row for each number of posts; `changes` replace whole fields."""
    posts = _posts(posts_in_row)
    spans = _spans(posts)
    findings = (
        Finding("look-on-site", "B01-R001-P003", "Look."),
        Finding("undeclared-nodata", ACCENTED_FILE, "3 cells\r\nhold -9999."),
        Finding("relief", "B01", "High."),
    )
    fields: dict[str, Any] = {
        "config": Config.model_validate(
            {
                "name": "encosta-nova",
                "block": {"boundary": "block.geojson"},
                "elevation": {"raster": "ground.tif"},
                "rows": {"bearing_deg": 90.0, "spacing_m": 2.4},
                "wires": [
                    {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "tension_n": 1000.0},
                    {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2},
                ],
            }
        ),
        "blocks": _blocks(),
        "exclusions": _exclusions(),
        "rows": _rows(posts),
        "posts": posts,
        "spans": spans,
        "clips": _clips(posts),
        "sections": _sections(),
        "wires": _wires(spans),
        "lifts": _lifts(posts),
        "let_down": _let_down(posts),
        "hold_down_options": _hold_down_options(),
        "adjusters": _adjusters(posts),
        "tension_check": _tension_check(posts),
        "catalogue": Catalogue(),
        "materials": _materials(),
        "zone_materials": _zone_materials(),
        "spare_parts": _spare_parts(),
        "fixing_options": _fixing_options(),
        "coils": _coils(),
        "coil_options": _coil_options(),
        "zones": _zones(),
        "programme": _programme(),
        "costs": _costs(),
        "block_costs": _block_costs(),
        "season": _season(),
        "stock_left": _stock_left(),
        "left_out": _left_out(),
        "row_ids": _row_ids(),
        "findings": finding_table(findings),
        "grids": (),
        "frames": (FrameNote("B01", "+proj=tmerc +lat_0=41.17 +lon_0=-7.51 +k=1.00006", 403.123456),),
        "output_crs": "EPSG:25829",
        "sources": (Source("boundary", "block.geojson", "ab" * 32), Source("elevation", "ground.tif", "cd" * 32)),
        "seconds": {"read": 1.25},
    }
    return Plan(**(fields | changes))


@pytest.fixture(scope="session")
def plan() -> Plan:
    """Return the small plan."""
    return make_plan()


@pytest.fixture(scope="session")
def bare_plan() -> Plan:
    """Return a plan of a block that has no row at all."""
    full = make_plan()
    names = ("exclusions", *(name for name in tables.TABLES))
    return make_plan(**{name: getattr(full, name).iloc[:0] for name in names})


@pytest.fixture(scope="session")
def plan_maker() -> Callable[..., Plan]:
    """Return the function that makes plans of any size."""
    return make_plan


def _posts(posts_in_row: tuple[int, ...]) -> gpd.GeoDataFrame:
    count = np.array(posts_in_row)
    row = np.repeat(np.arange(len(count)), count)
    place = np.concatenate([np.arange(n) for n in posts_in_row])
    last = np.repeat(count, count) - 1
    lon = LON + place * STEP_LON
    lat = LAT + row * STEP_LAT
    ground = 403.0 + 0.1 * place - 0.03 * row
    ground[-1] = np.nan
    change = np.where(place % 2, -5.004, 0.001 - 0.005 * place)
    change[(place == 0) | (place == last)] = np.nan
    ids = pd.Series([f"B01-R{r + 1:03d}" for r in row], dtype="str")
    frame = pd.DataFrame(
        {
            "post_id": ids + pd.Series([f"-P{p + 1:03d}" for p in place], dtype="str"),
            "row_id": ids,
            "kind": np.where((place == 0) | (place == last), "end", "intermediate"),
            "station_m": place * 6.0,
            "lon": lon,
            "lat": lat,
            "ground_m": ground,
            "grade_change_pct": change,
            "section_id": pd.Series(
                ["B01-R001-U01" if p == 1 and r == 0 else None for p, r in zip(place, row, strict=True)]
            ),
        }
    )
    is_end = frame["kind"] == "end"
    frame["uplift_n"] = np.where(is_end, np.nan, np.where(place == 1, 231.45, 0.0))
    frame["end_pull_n"] = np.where(is_end, 2200.0 + row + 0.26 * (place > 0), np.nan)
    frame["end_moment_nm"] = np.where(is_end, 2530.0 + row + 4.0 * (place > 0), np.nan)
    frame["height_out_m"] = np.where(place == 2, 2.2, 1.9)
    frame["grade_pct"] = 1.67
    frame["cross_slope_pct"] = np.where(row == 0, -12.5, 8.25)
    frame["taped_m"] = np.where(np.isnan(ground), np.nan, np.hypot(6.0, 0.1) * place)
    frame["post_item"] = np.where(is_end, "end post", "line post")
    frame["end_item"] = frame["kind"].map({"end": "anchored end"})
    asks = np.where(
        (row == 0) & (place == 1), "two-way", np.where((row == 0) & (place == 2), "look-on-site", "one-way")
    )
    frame["clip_need"] = np.where(is_end, "none", asks)
    frame["clip_shift_m"] = 0.0
    frame["standing"] = "no"
    frame["clip_reason"] = pd.Series(["strung" if ask == "two-way" else None for ask in frame["clip_need"]])
    frame["look_saves_min"] = np.where(frame["clip_need"] == "look-on-site", 0.5, np.nan)
    frame["bridged_m"] = np.where(place == 2, 1.5, np.nan)
    frame["bridged_error_m"] = np.where(place == 2, 0.0412, np.nan)
    frame["clip_positions"] = np.where(is_end, 0, np.where(place == 2, 5, 4)).astype("int64")
    return _shaped(tables.POSTS, frame, shapely.points(lon, lat))


def _spans(posts: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    near = posts[posts["row_id"] == posts["row_id"].shift(-1)]
    far = posts.loc[near.index + 1]
    frame = pd.DataFrame(
        {
            "span_id": near["post_id"].str.replace("-P", "-S").to_numpy(),
            "row_id": near["row_id"].to_numpy(),
            "from_post": near["post_id"].to_numpy(),
            "to_post": far["post_id"].to_numpy(),
            "horizontal_m": 6.0,
            "rise_m": far["ground_m"].to_numpy() - near["ground_m"].to_numpy(),
        }
    )
    frame["grade_pct"] = 100.0 * frame["rise_m"] / 6.0
    frame["chord_m"] = np.hypot(6.0, frame["rise_m"])
    frame["wire_m"] = frame["chord_m"] + 2e-6
    frame["cut_m"] = frame["chord_m"] * 0.9992
    frame["sag_mm"] = -0.0004
    frame["tension_start_n"] = 300.0
    frame["tension_end_n"] = 300.0 + frame["rise_m"]
    frame["clearance_m"] = 0.85
    lines = lines_through(
        np.stack([shapely.get_coordinates(near.geometry), shapely.get_coordinates(far.geometry)], axis=1)
    )
    each = [frame.assign(wire_id=wire) for wire, _, _ in WIRES]
    return _shaped(tables.SPANS, pd.concat(each, ignore_index=True), np.tile(lines, len(WIRES)))


def _rows(posts: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    by_row = posts.groupby("row_id", sort=True)
    first, last = by_row.head(1), by_row.tail(1)
    count = by_row.size().to_numpy()
    frame = pd.DataFrame(
        {
            "row_id": first["row_id"].to_numpy(),
            "block_id": "B01",
            "position": np.arange(1, len(count) + 1),
            "bearing_deg": 90.0,
            "length_m": last["station_m"].to_numpy(),
            "slope_length_m": last["station_m"].to_numpy() + 0.01,
            "start_lon": first["lon"].to_numpy(),
            "start_lat": first["lat"].to_numpy(),
            "end_lon": last["lon"].to_numpy(),
            "end_lat": last["lat"].to_numpy(),
            "start_ground_m": first["ground_m"].to_numpy(),
            "end_ground_m": last["ground_m"].to_numpy(),
            "posts": count.astype("int64"),
            "spans": (count - 1).astype("int64"),
            "max_grade_pct": 1.67,
            "mean_grade_pct": 1.67,
            "run_m": 12.0,
            "run_grade_pct": 1.67,
            "two_way_posts": np.where(np.arange(len(count)) == 0, 1, 0).astype("int64"),
        }
    )
    frame["slope_pct"] = 12.61
    frame["slope_class"] = "10-20 %"
    frame["hours"] = 3.125
    frame["zone_id"] = "B01-Z01"
    frame["bridged_m"] = 1.5
    frame["given_attributes"] = pd.Series(['{"trellis": "old"}', *[None] * (len(count) - 1)], dtype="str")
    ends = np.stack([frame[["start_lon", "start_lat"]], frame[["end_lon", "end_lat"]]], axis=1)
    return _shaped(tables.ROWS, frame, shapely.linestrings(ends))


def _clips(posts: gpd.GeoDataFrame) -> pd.DataFrame:
    """In row 1 post 2 needs a two-way clip, but not in heat; post 3 pulls up a little in the cold: look on site.

    The others do with one-way clips. The fixed wire is stapled and never lifted.
    """
    inner = posts.loc[posts["kind"] == "intermediate", ["post_id", "row_id"]]
    loads = dict(zip((name.load for name in tables.OF_STATE.values()), (12.8, 13.0, 12.5, 12.7), strict=True))
    parts = []
    for wire, clip, _ in WIRES:
        part = inner.assign(wire_id=wire, load_min_n=12.5, load_max_n=13.0, need_probability=0.0001, clip=clip)
        part = part.assign(certainty="no", seat="over", **loads)
        for name in tables.OF_STATE.values():
            part = part.assign(**{name.clip: part["clip"], name.seat: part["seat"]})
        parts.append(part)
    clips = pd.concat(parts, ignore_index=True)
    lower = clips["wire_id"] == "lower"
    pulls = lower & (clips["post_id"] == "B01-R001-P002")
    clips.loc[pulls, ["load_min_n", "need_probability"]] = [-130.7, 0.9987]
    clips.loc[pulls, ["certainty", "clip", "seat"]] = ["certain", "two-way", "under"]
    for column, load_n in zip(loads, (-101.5, -130.7, -2.04, -120.3), strict=True):
        clips.loc[pulls, column] = load_n
    for state, name in tables.OF_STATE.items():
        clips.loc[pulls, name.clip] = "one-way" if state == "hot" else "two-way"
        clips.loc[pulls, name.seat] = "under"
    look = lower & (clips["post_id"] == "B01-R001-P003")
    clips.loc[look, "certainty"] = "possible"
    clips.loc[look, ["load_cold_n", "load_min_n"]] = -3.1
    clips.loc[~lower, ["certainty", "seat_lifted"]] = None
    clips.loc[~lower, ["need_probability", "load_lifted_n"]] = np.nan
    clips["ground_probability"] = clips["need_probability"]
    clips["look_on_site"] = np.where(look, "yes", "no")
    clips["dropped_height_m"] = np.where(lower, np.where(clips["row_id"] == "B01-R001", 0.1, 0.9), np.nan)
    clips["positions"] = np.where(lower, 4, 1).astype("int64")
    clips["uses"] = np.where(lower, "1.20 strung, 1.45 lifted, 1.70 lifted", "0.90 strung")
    clips["pieces"] = np.where(lower, 8, 1).astype("int64")
    clips["fixing"] = np.where(lower, "screw-fixed clip", "formed staple")
    clips["holds_n"] = 266.67
    clips["fixing_reason"] = "Cheapest of 2 that hold."
    clips["standing_pieces"] = 0
    clips["load_side_n"] = np.where(lower, 1.25, 0.0)
    return conform(tables.CLIPS, clips)


def _fixing_options() -> pd.DataFrame:
    """Two sets for the wires in clips, one for those under staples, of the only block."""
    lines = [
        ("clip", 1, "screw-fixed clip", "40", 0, 8.2, 0.4, 912.5, 61.2, "drill driver", "yes", "yes", 0.2, "yes"),
        (
            "clip",
            2,
            "open clip + screw-fixed clip",
            "32 + 8",
            1,
            np.nan,
            0.5,
            np.nan,
            np.nan,
            None,
            "no",
            None,
            np.nan,
            "no",
        ),
        ("staple", 1, "formed staple", "5", 0, 0.6, 0.1, 80.0, 2.5, "hammer", "yes", "yes", 0.1, "yes"),
    ]
    names = ["holder", "option", "kinds", "pieces_each", "not_held", "price", "hours", "cost_per_ha", "cost_per_year"]
    names += ["tools", "net_safe", "harvester_safe", "removal_hours", "chosen"]
    frame = pd.DataFrame(lines, columns=names).assign(block_id="B01", skill=None)
    pieces = [sum(map(int, each.split(" + "))) for each in frame["pieces_each"]]
    frame = frame.assign(pieces=pieces, not_held_up=frame["not_held"], not_held_down=0, not_held_side=0)
    return conform(tables.FIXING_OPTIONS, frame)


def _sections() -> gpd.GeoDataFrame:
    frame = pd.DataFrame(
        {
            "section_id": ["B01-R001-U01"],
            "row_id": ["B01-R001"],
            "from_post": ["B01-R001-P002"],
            "to_post": ["B01-R001-P002"],
            "length_m": [6.0],
            "posts": np.array([1], dtype="int64"),
            "greatest_pull_up_n": [130.7],
            "greatest_grade_change_pct": [13.33],
        }
    )
    line = shapely.LineString([(LON + 0.5 * STEP_LON, LAT), (LON + 1.5 * STEP_LON, LAT)])
    return _shaped(tables.SECTIONS, frame, [line])


def _wires(spans: gpd.GeoDataFrame) -> pd.DataFrame:
    cut = spans.groupby(["row_id", "wire_id"])["cut_m"].sum(min_count=1)
    frame = cut.rename("cut_m_per_line").reset_index()
    frame["lines"] = frame["wire_id"].map({wire: lines for wire, _, lines in WIRES}).astype("int64")
    frame["tails_m_per_line"] = 1.0
    frame["run_out_m"] = frame["lines"] * (frame["cut_m_per_line"] + frame["tails_m_per_line"])
    frame["tension_n"] = 300.0
    frame["far_end_tension_n"] = 300.1
    second, lower = frame["row_id"] == "B01-R002", frame["wire_id"] == "lower"
    frame["strain_from"] = np.where(second, "both ends", "one end")
    frame["strain_at_post"] = None
    frame["cold_tension_n"] = np.where(lower, 534.2, 1374.04)
    frame["hot_tension_n"] = np.where(lower, 60.5, 534.3)
    frame["greatest_tension_n"] = np.where(lower, 563.26, 1374.04)
    frame["drops_by_itself"] = pd.Series(np.where(frame["row_id"] == "B01-R001", "yes", "no")).where(lower)
    frame["dropped_height_m"] = np.where(lower, np.where(frame["row_id"] == "B01-R001", 0.0, 0.874), np.nan)
    frame["take_up_mm"] = np.where(lower, np.where(frame["row_id"] == "B01-R001", 0.0, 136.4), np.nan)
    frame["wire_item"] = np.where(lower, "2.5 mm wire", "3.15 mm wire")
    frame["ends_move"] = "no"
    frame["strain_pull_mm"] = 7.31
    frame["unclipped_n"] = np.where(lower & second, 2466.6, 300.0)
    frame["knot_bears_n"] = 1848.0
    frame["cold_up_tension_n"] = np.where(lower, 475.4, 1374.04)
    alone = frame["row_id"] == "B01-R001"
    frame["clear_pct"] = np.where(lower, np.where(alone, 100.0, 41.2), np.nan)
    frame["greatest_up_m"] = np.where(lower, np.where(alone, 0.4, 1.1), np.nan)
    frame["let_down_by"] = pd.Series(np.where(alone, "nothing", "adjuster")).where(lower)
    frame["let_down_reason"] = pd.Series(np.where(alone, "clear", "not clear")).where(lower)
    frame["left_posts_up"] = np.where(lower, np.where(alone, 0.0, 2.0), np.nan)
    frame["left_up_m"] = np.where(lower, np.where(alone, 0.4, 0.77), np.nan)
    frame["lift_slack_mm"] = np.where(lower, np.where(alone, 0.0, 31.5), np.nan)
    frame["lifts_below_mm"] = np.where(lower, 41.2, 30.0)
    frame["standing"] = "no"
    return conform(tables.WIRES, frame)


def _lifts(posts: gpd.GeoDataFrame) -> pd.DataFrame:
    """The lower wire of every row, lifted to two clips."""
    frame = pd.DataFrame(
        [
            (row, "lower", height, "lifted", 320.0 + height, 321.0, 40.5, 39.5, -120.3, 41.25)
            for row in posts["row_id"].unique()
            for height in (1.45, 1.7)
        ],
        columns=tables.LIFTS.names,
    )
    return conform(tables.LIFTS, frame)


def _hold_down_options() -> pd.DataFrame:
    lines = [("B01", 0.0, 7, 14, "no"), ("B01", 5.0, 4, 8, "yes")]
    return conform(tables.HOLD_DOWN_OPTIONS, pd.DataFrame(lines, columns=tables.HOLD_DOWN_OPTIONS.names))


def _let_down(posts: gpd.GeoDataFrame) -> pd.DataFrame:
    """The lower wire of every row: nothing, or an end undone."""
    lines = [
        (row, "lower", way, clear, high, up, 0.0, 0.0, 0.0, again, chosen)
        for row in posts["row_id"].unique()
        for way, clear, high, up, again, chosen in (
            ("nothing", 82.5, 0.77, 2.0, 0.0, "yes"),
            ("undo an end", 100.0, 0.0, 0.0, 12.0, "no"),
        )
    ]
    return conform(tables.LET_DOWN, pd.DataFrame(lines, columns=tables.LET_DOWN.names))


def _materials() -> pd.DataFrame:
    frame = pd.DataFrame(
        [
            ("screw-fixed clip", "clip", 40, "piece", 2, 0.35, 17.5, np.nan, np.nan, "foliage wires", "invented"),
            ("2.5 mm wire", "wire", 1, "coil", 0, 95.0, 95.0, 112.345, 4.33, "lower", "invented"),
            ("hammer", "tool", 1, "piece", 0, np.nan, np.nan, np.nan, np.nan, "end staples", None),
        ],
        columns=tables.MATERIALS.names[:-7],
    )
    frame = frame.assign(supplier=["fittings", "Ana & Sons", "tools"], pack=[50, 1, 1], packs=[1, 1, 1])
    frame = frame.assign(in_stock=0, to_order=frame["quantity"] + frame["spare_quantity"], stock_worth=0.0)
    return conform(tables.MATERIALS, frame.assign(not_included=LEFT_OUT))


def _zone_materials() -> pd.DataFrame:
    lines = [("B01-Z01", "screw-fixed clip", "clip", 40.0, "piece"), ("B01-Z01", "2.5 mm wire", "wire", 112.35, "m")]
    return conform(tables.ZONE_MATERIALS, pd.DataFrame(lines, columns=tables.ZONE_MATERIALS.names))


def _spare_parts() -> pd.DataFrame:
    lines = [("screw-fixed clip", "clip", 3, "piece", 0.4, 1.2, "40, 1 % a year")]
    return conform(tables.SPARE_PARTS, pd.DataFrame(lines, columns=tables.SPARE_PARTS.names))


def _coils() -> pd.DataFrame:
    left = (648.1, 536.1, "yes", 1, np.nan, None)
    frame = pd.DataFrame(
        [
            ("C001", "2.5 mm wire", "B01-R001", "lower", 1, 0.0, 31.0, "no", "B01-Z01", *left, "yes"),
            ("C001", "2.5 mm wire", "B01-R001", "lower", 2, 31.0, 62.0, "no", "B01-Z01", *left, "no"),
            ("C001", "2.5 mm wire", "B01-R002", "lower", 1, 62.0, 87.0, "no", "B01-Z01", *left, "no"),
            ("C001", "2.5 mm wire", "B01-R002", "lower", 2, 87.0, 112.0, "no", "B01-Z01", *left, "no"),
        ],
        columns=tables.COILS.names[:-3],
    )
    return conform(tables.COILS, frame.assign(with_line=np.nan, from_stock="no", stock_tag=None))


def _stock_left() -> pd.DataFrame:
    lines = [("screw-fixed clip", 8, np.nan, None), ("2.5 mm wire", 1, 536.1, "C001")]
    return conform(tables.STOCK_LEFT, pd.DataFrame(lines, columns=tables.STOCK_LEFT.names))


def _coil_options() -> pd.DataFrame:
    frame = pd.DataFrame(
        [
            ("2.5 mm wire", "fewest coils whatever the order", 1, 0, 1, 1, 96.2, "no", 1, np.nan),
            ("2.5 mm wire", "in working order with joins", 1, 0, 1, 1, 96.2, "yes", 1, 96.2),
        ],
        columns=tables.COIL_OPTIONS.names,
    )
    return conform(tables.COIL_OPTIONS, frame)


def _zones() -> gpd.GeoDataFrame:
    lines = [("B01-Z01", "B01", "B01-R001", "B01-R002", 2, 42.0, "10-20 %", 6.25, 3, 0.26, 9, 1)]
    area = shapely.MultiPolygon([shapely.box(LON - STEP_LON, LAT - STEP_LAT, LON + 5 * STEP_LON, LAT + 2 * STEP_LAT)])
    return _shaped(tables.ZONES, pd.DataFrame(lines, columns=tables.ZONES.names), [area])


def _programme() -> pd.DataFrame:
    lines = [
        ("B01-Z01", 1, "set posts", 9.0, "post", 1.5, 2, 0.06, "4 x end post; 5 x line post", "post driver", None),
        ("B01-Z01", 2, "run out", 112.35, "m", 0.75, 2, 0.03, "C001", "reel", "Into its clips, post by post."),
    ]
    return conform(tables.PROGRAMME, pd.DataFrame(lines, columns=tables.PROGRAMME.names))


def _costs() -> pd.DataFrame:
    none = (np.nan, None, np.nan)
    lines = [
        ("wire", 95.0, 219.91, 2.2619, "EUR", None, *none),
        ("clip", 17.5, 40.51, 0.4167, "EUR", None, *none),
        ("labour", np.nan, np.nan, np.nan, "EUR", "0.50 h of labour", 0.5, "h", np.nan),
        ("machine hire", 3.0, 6.94, 0.0714, "EUR", None, 0.05, "crew day", 60.0),
        ("tool hire", np.nan, np.nan, np.nan, "EUR", "tool hire", *none),
        ("freight", 2.81, 6.5, 0.0669, "EUR", None, 112.5, "% of materials", 2.5),
        ("contingency", 5.92, 13.7, 0.141, "EUR", None, 118.31, "% of all", 5.0),
        ("sum", 124.23, 287.57, 2.9579, "EUR", "0.50 h of labour; tool hire", *none),
    ]
    frame = pd.DataFrame(lines, columns=[name for name in tables.COSTS.names if name != "not_included"])
    return conform(tables.COSTS, frame.assign(not_included=LEFT_OUT))


def _block_costs() -> pd.DataFrame:
    lines = [
        *(("B01", "wire", 16.47), ("B01", "clip", 14.0), ("B01", "machine hire", 3.0), ("B01", "freight", 0.76)),
        *(("B01", "contingency", 1.71), ("B01", "sum", 35.94), (None, "wire", 78.53), (None, "clip", 3.5)),
        *((None, "freight", 2.05), (None, "contingency", 4.21), (None, "sum", 88.29)),
    ]
    frame = pd.DataFrame(lines, columns=["block_id", "part", "total"])
    area = frame["block_id"].map({"B01": 0.432})
    sizes = {"area_ha": area, "per_ha": frame["total"] / area, "per_row_m": frame["total"].where(area > 0.0) / 42.0}
    return conform(tables.BLOCK_COSTS, frame.assign(currency="EUR", **sizes))


def _season() -> pd.DataFrame:
    lines = [
        ("B01", "lower", "lift", 112.0, "m", 0.06, 2, 0.12),
        ("B01", "lower", "let down", 112.0, "m", 0.03, 1, 0.03),
    ]
    frame = pd.DataFrame(lines, columns=tables.SEASON.names[:-1])
    return conform(tables.SEASON, frame.assign(cost_a_year=np.nan))


def _left_out() -> gpd.GeoDataFrame:
    """A third row, over ground that is not known."""
    lines = [("B01-R003", "B01", 21.25, "hole of 8.0 m, 4.0 m from the row's start; elevation.bridge_m = 5 m")]
    places = np.array([[LON, LAT + 2 * STEP_LAT], [LON + 3.5 * STEP_LON, LAT + 2 * STEP_LAT]])
    return _shaped(
        tables.LEFT_OUT, pd.DataFrame(lines, columns=tables.LEFT_OUT.names), shapely.linestrings(places[None])
    )


def _row_ids() -> pd.DataFrame:
    """Beside an earlier plan: a row kept, a new one, one left out now, one gone."""
    line = f"LINESTRING ({LON} {LAT}, {LON + 4 * STEP_LON} {LAT})"
    origins = [("B01-R001", "kept", 0.25), ("B01-R002", "new", np.nan), ("B01-R003", "kept", 0.0)]
    lines = [(row, "B01", origin, moved, line) for row, origin, moved in [*origins, ("B01-R007", "gone", np.nan)]]
    return conform(tables.ROW_IDS, pd.DataFrame(lines, columns=tables.ROW_IDS.names))


def _adjusters(posts: gpd.GeoDataFrame) -> pd.DataFrame:
    """Both lines of the lower wire of every row but the first."""
    rows = [row for row in posts["row_id"].unique() if row != "B01-R001"]
    frame = pd.DataFrame(
        [(row, "lower", line, "far", "winding strainer", 136.4, 1.74, "no") for row in rows for line in (1, 2)],
        columns=tables.ADJUSTERS.names,
    )
    return conform(tables.ADJUSTERS, frame.astype({"line": "int64", "take_up_mm": "float64", "turns": "float64"}))


def _tension_check(posts: gpd.GeoDataFrame) -> pd.DataFrame:
    frame = pd.DataFrame(
        [
            (row, wire, celsius, 300.0 - 8.0 * celsius, 6.0, 0.6, 50.0, 240.0, 12.04, 13.31)
            for row in posts["row_id"].unique()
            for wire, _, _ in WIRES
            for celsius in (0.0, 20.0)
        ],
        columns=tables.TENSION_CHECK.names,
    )
    return conform(tables.TENSION_CHECK, frame)


def _blocks() -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {"block_id": ["B01"], "name": [BLOCK_NAME], "area_ha": [0.4321]},
        geometry=[shapely.box(LON - 0.001, LAT - 0.0005, LON + 0.002, LAT + 0.001)],
        crs="EPSG:4326",
    )


def _exclusions() -> gpd.GeoDataFrame:
    parts = [shapely.box(LON + d, LAT + 0.0005, LON + d + 0.0001, LAT + 0.0006) for d in (0.001, 0.0015)]
    return gpd.GeoDataFrame({"block_id": ["B01"]}, geometry=[shapely.MultiPolygon(parts)], crs="EPSG:4326")


def _shaped(table: tables.Table, frame: pd.DataFrame, geometry: Any) -> gpd.GeoDataFrame:  # noqa: ANN401 - any shapes
    return gpd.GeoDataFrame(conform(table, gpd.GeoDataFrame(frame, geometry=geometry, crs="EPSG:4326")))
