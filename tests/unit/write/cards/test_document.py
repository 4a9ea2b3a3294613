"""The whole document: what stands on it, that nothing leaves the sheet, and that it is the same each time."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pypdf
import pytest
from wirerun.records import Plan
from wirerun.rules.headline import headline
from wirerun.settings import Config
from wirerun.terms import Terms
from wirerun.write.cards.letters import MISSING, TICK

Texts = Callable[[Plan], list[str]]
Letters = Callable[[Plan], list[list[tuple[str, tuple[float, float, float, float]]]]]

MARGIN_PT = 12.0 * 72.0 / 25.4
A4_PT = (595.28, 841.89)  # ISO 216: 210 x 297 mm
NASTY = '<b>&amp; "x" \x00\u202e ' + "W" * 150 + " \u4e2d\u6587 \u03a9\u03bc\u03ad\u03b3\u03b1 \u0416\u0443\u043a"


def _long_named(plan: Plan) -> Plan:
    """Return the plan with names as long and strange as a user's files may have them."""
    config = Config.model_validate(plan.config.model_dump() | {"name": "n" * 64})
    coils = pd.concat([plan.coils.assign(coil_id=f"C{n:04d}", wire_item=NASTY) for n in range(80)], ignore_index=True)
    return replace(
        plan,
        config=config,
        clips=plan.clips.assign(fixing=NASTY),
        coils=coils,
        zone_materials=plan.zone_materials.assign(item=[NASTY, NASTY + "2"]),
        programme=plan.programme.assign(task=NASTY, tools=NASTY, note=NASTY),
        zones=plan.zones.assign(slope_class=NASTY),
    )


def _without_heights(plan: Plan) -> Plan:
    empty = {"start_ground_m": np.nan, "end_ground_m": np.nan, "max_grade_pct": np.nan, "slope_length_m": np.nan}
    clips = plan.clips.assign(clip=None, seat=None, certainty=None, fixing=None, load_min_n=np.nan)
    return replace(
        plan,
        posts=plan.posts.assign(ground_m=np.nan),
        rows=plan.rows.assign(**empty),
        wires=plan.wires.assign(run_out_m=np.nan, strain_from=None, drops_by_itself=None, wire_item=None),
        clips=clips.astype(dict.fromkeys(("clip", "seat", "certainty", "fixing"), "str")),
        tension_check=plan.tension_check.assign(gauge_n=np.nan, gauge_stuck_n=np.nan),
    )


def _alternating(plan: Plan) -> Plan:
    """Return the plan with a two-way clip on every post, over and under in turn: the longest list there can be."""
    lower = plan.clips["wire_id"] == "lower"
    seat = np.where(np.arange(len(plan.clips)) % 4 < 2, "over", "under")
    return replace(
        plan,
        clips=plan.clips.assign(clip=plan.clips["clip"].where(~lower, "two-way"), seat=seat),
    )


def _of_single_posts(plan: Plan) -> Plan:
    first = plan.posts["post_id"].str.endswith("P001")
    return replace(plan, posts=plan.posts[first], clips=plan.clips[:0], sections=plan.sections[:0])


def _without_work(plan: Plan) -> Plan:
    names = ("zones", "coils", "zone_materials", "programme", "adjusters", "tension_check", "lifts", "clips")
    gone: dict[str, Any] = {name: getattr(plan, name).iloc[:0] for name in names}
    return replace(plan, frames=(), **gone)


CASES: dict[str, Callable[[Callable[..., Plan]], Plan]] = {
    "small": lambda make: make(),
    "long names": lambda make: _long_named(make()),
    "long rows": lambda make: make((300, 2, 41)),
    "two-way all along": lambda make: _alternating(make((300, 120))),
    "no heights": lambda make: _without_heights(make()),
    "single posts": lambda make: _of_single_posts(make()),
    "no work planned": lambda make: _without_work(make()),
}


@pytest.mark.parametrize("case", CASES)
def test_no_letter_leaves_the_margins_or_is_too_small_to_read(
    plan_maker: Callable[..., Plan], letters: Letters, write: Callable[[Plan], Path], case: str
) -> None:
    plan = CASES[case](plan_maker)
    for sheet in letters(plan):
        boxes = np.array([box for _, box in sheet])
        assert (boxes[:, :2] >= MARGIN_PT - 1.5).all()
        assert (boxes[:, 2] <= A4_PT[0] - MARGIN_PT + 1.5).all()
        assert (boxes[:, 3] <= A4_PT[1] - MARGIN_PT + 1.5).all()
    sizes: set[float] = set()
    for page in pypdf.PdfReader(write(plan)).pages:
        page.extract_text(visitor_text=lambda text, _cm, _tm, _font, size: sizes.add(size) if text.strip() else None)
    assert min(sizes) >= 9.0


@pytest.mark.parametrize("case", CASES)
def test_no_two_letters_lie_on_each_other(plan_maker: Callable[..., Plan], letters: Letters, case: str) -> None:
    for sheet in letters(CASES[case](plan_maker)):
        # The dash, the dot and the signs of another script have boxes wider than what is drawn.
        boxes = np.array([box for letter, box in sheet if letter.isascii() and letter.isalnum()])
        left, bottom, right, top = boxes.T[:, :, None]
        over_x = np.minimum(right, right.T) - np.maximum(left, left.T)
        over_y = np.minimum(top, top.T) - np.maximum(bottom, bottom.T)
        clash = (over_x > 1.0) & (over_y > 1.0) & ~np.eye(len(boxes), dtype=bool)
        assert not clash.any()


def test_the_same_plan_gives_the_same_bytes(
    plan: Plan, plan_maker: Callable[..., Plan], write: Callable[[Plan], Path]
) -> None:
    first = write(plan).read_bytes()
    write(_long_named(plan_maker()))  # other letters first: they must not shift those of the next
    assert write(plan).read_bytes() == first
    assert b"/CreationDate (D:2000" in first


def test_a_plan_without_rows_has_its_first_sheet_only(bare_plan: Plan, texts: Texts) -> None:
    (sheet,) = texts(bare_plan)
    assert "Field cards: encosta-nova" in sheet
    assert "page 1 of 1" in sheet


def test_the_first_sheet_has_totals_and_cautions(plan: Plan, texts: Texts) -> None:
    sheet = texts(plan)[0]
    words = sheet.split("\n")
    metres = f"{plan.wires['run_out_m'].sum():.0f}"
    for figure in ("2", "9", "1", metres):
        assert figure in words
    for caution in (
        "eye protection",
        "Fix one end first",
        "Strain only when the wire is in every clip.",
        "astride",
        "two full turns",
        "secure both sides",
        "buried services",
        "no safety determination",
        "competent person",
        "Local codes",
    ):
        assert caution in sheet


@pytest.mark.parametrize("terms", ["au-nz", "us"])
def test_the_first_sheet_has_the_headline_number_by_number(plan: Plan, texts: Texts, terms: Terms) -> None:
    """What the map's opening panel says, in the same words."""
    plan = _set_to(plan, terms)
    told = headline(plan)
    said = " ".join(texts(plan)[0].replace("\N{NO-BREAK SPACE}", " ").split())
    for fact in told.facts:
        known = fact.figure is not None
        figure = " ".join(filter(None, (str(fact.figure), fact.unit))) if known else "not priced"
        words = fact.words[0].lower() + fact.words[1:]
        assert (f"{words} {figure}" if fact.part else f"{figure} {words}") in said
    for one in told.order:
        assert f"{one.pieces} {one.name.lower()}" in said
    for sentence in told.lacks:
        assert sentence in said


def test_in_america_cards_speak_of_line_posts_and_catch_wires(plan: Plan, texts: Texts) -> None:
    ours, theirs = (" ".join(" ".join(texts(_set_to(plan, terms))).split()) for terms in ("au-nz", "us"))
    for word in ("intermediate post", "foliage wire", "labour", "metres of wire"):
        assert word in ours
        assert word not in theirs
    for word in ("line post", "catch wire", "labor", "meters of wire"):
        assert word in theirs


def _set_to(plan: Plan, terms: Terms) -> Plan:
    output = plan.config.output.model_copy(update={"terms": terms})
    return replace(plan, config=plan.config.model_copy(update={"output": output}))


def test_the_first_sheet_says_at_which_heights_wires_are_held(plan: Plan, texts: Texts) -> None:
    """As the clips have it, not as the grid of heights would: no clip is set where no wire comes to lie."""
    sheet = " ".join(texts(plan)[0].split())
    held = "Held at, m above ground: fruiting: 0.90 strung; lower: 1.20 strung, 1.45 lifted, 1.70 lifted."
    assert held in sheet


def test_the_first_sheet_names_rows_that_are_in_none_of_its_totals(
    plan: Plan, plan_maker: Callable[..., Plan], texts: Texts
) -> None:
    said = " ".join(texts(plan)[0].split())
    assert "NOT in these figures, and what is not planned is on no sheet" in said
    assert "1 row, 21 m, in no number here: no ground heights. B01-R003." in said
    whole = texts(plan_maker(left_out=plan.left_out.iloc[:0]))
    assert "no ground heights" not in whole[0]
    assert whole[1:] == texts(plan)[1:]


def test_a_row_says_which_wire_how_long_which_coil_and_which_way_up(plan: Plan, texts: Texts) -> None:
    zone, rows = texts(plan)[2:4]
    assert "Zone B01-Z01" in zone
    assert "C001 0.0\u2013112.0" in zone
    assert "whole; 536.1 m to keep" in zone
    first = rows[rows.index("B01-R001") : rows.index("B01-R002")]
    lower = plan.wires[(plan.wires["row_id"] == "B01-R001") & (plan.wires["wire_id"] == "lower")].iloc[0]
    assert f"2 \u00d7 {lower['run_out_m'] / 2:.1f}" in first
    assert "C001 0.0\u201331.0\u201362.0" in first  # two lines, one after the other
    assert "two-way, wire UNDER: P002" in first
    assert "look: \u25a1P003" in first
    assert "lower: 24 \u00d7 screw-fixed clip." in first
    second = " ".join(rows[rows.index("B01-R002") :].split())
    assert "winding strainer" in second
    assert "far: 135 mm" in second
    assert "1.7 turns" in second
    assert "both ends" in second


def test_the_back_says_how_each_wire_is_set_and_checked_once_for_rows_that_are_alike(plan: Plan, texts: Texts) -> None:
    rows = " ".join(texts(plan)[3].split())
    assert "at 15 \u00b0C at 0 \u00b0C at 20 \u00b0C" in rows
    assert "lower, 2.5 mm 1.20 (1.45, 1.70) 300 300: 12.0\u201313.5 140: 12.0\u201313.5" in rows
    assert rows.count("lower, 2.5 mm") == 1
    # Where they are not, each has a line; nearly alike ones are told by their least and greatest.
    second, lower = plan.tension_check["row_id"] == "B01-R002", plan.tension_check["wire_id"] == "lower"
    for more, said in ((0.9, "lower, 2.5 mm 1.20"), (1.1, "lower, 2.5 mm: R002")):
        check = plan.tension_check.assign(gauge_stuck_n=plan.tension_check["gauge_stuck_n"] + more * (second & lower))
        assert said in " ".join(texts(replace(plan, tension_check=check))[3].split())
    check = plan.tension_check.assign(gauge_stuck_n=plan.tension_check["gauge_stuck_n"] + 0.9 * second)
    assert "300: 12.0\u201314.0" in " ".join(texts(replace(plan, tension_check=check))[3].split())


def test_a_join_says_where_it_comes_and_coils_what_becomes_of_them(plan: Plan, texts: Texts) -> None:
    """The last line is begun on a coil that comes open and goes on from another, which stays open for another zone."""
    first = plan.coils.iloc[:3].assign(from_m=[500.0, 531.0, 562.0], to_m=[531.0, 562.0, 587.0], remainder_m=50.1)
    joined = plan.coils.iloc[[3, 3]].assign(
        coil_id=["C001", "C002"],
        from_m=[587.0, 10.0],
        to_m=[598.0, 24.0],
        joined="yes",
        piece=[1, 2],
        join_m=[10.6, np.nan],
        join_span=pd.Series(["B01-R002-S002", None], dtype="str").to_numpy(),
        remainder_m=[50.1, 0.0],
    )
    zone, rows = texts(replace(plan, coils=pd.concat([first, joined], ignore_index=True)))[2:4]
    assert "C001 500.0\u2013598.0" in zone
    assert "open; 50.1 m to keep" in zone
    assert "C002 10.0\u201324.0" in zone
    assert "open; 624.1 m go on" in zone
    second = rows[rows.index("B01-R002") :]
    assert "C001 562.0\u2013587.0\u2013598.0" in second
    assert "join at 10.6 m, P002\u2013P003" in " ".join(second.split())
    assert "+ C002 10.0\u201324.0" in second


def test_a_row_strained_from_the_middle_says_at_which_post(plan: Plan, texts: Texts) -> None:
    first = (plan.wires["row_id"] == "B01-R001") & (plan.wires["wire_id"] == "lower")
    wires = plan.wires.assign(
        strain_from=plan.wires["strain_from"].mask(first, "middle"),
        strain_at_post=plan.wires["strain_at_post"].mask(first, "B01-R001-P003"),
    )
    rows = " ".join(texts(replace(plan, wires=wires))[3].split())
    assert "middle, P003" in rows[rows.index("B01-R001") : rows.index("B01-R002")]
    assert rows.count("middle, P") == 1


def test_every_card_says_when_to_strain(plan: Plan, texts: Texts) -> None:
    """In bold, on both sides of the zone's sheet; other notes stand under the zone's tasks."""
    zone, rows = texts(plan)[2:4]
    strain = "Strain only when the wire is in every clip."
    assert f"{strain} Eye protection on; nobody in line with it." in zone.split("\n")
    assert f"{strain} Leave 0.5 m of wire beyond each end post." in rows.split("\n")
    # The second row's lower wire would end beyond its knot: its card says at what.
    over = "Strained before it is in its clips it would end: lower at 2470 N (knot bears 1850 N)."
    assert over in " ".join(rows[rows.index("B01-R002") :].split())
    assert rows.count("Strained before") == 1
    assert "2: Into its clips, post by post." in zone


@pytest.mark.usefixtures("without_extra")
def test_a_plain_install_has_every_sign_of_the_sheets(plan_maker: Callable[..., Plan], texts: Texts) -> None:
    """What we write ourselves, boxes to tick among it, needs no extra."""
    lacking = [name for name, case in CASES.items() if any(MISSING in text for text in texts(case(plan_maker)))]
    assert lacking == ["long names"]  # letters of the names, not of ours
    ticked = "".join(texts(plan_maker()))
    assert all(f"{TICK} {number} " in ticked for number in (1, 2))  # a box before each task
    assert f"{TICK}P003" in ticked  # and before each post to look at


def test_what_the_letters_lack_is_replaced_in_its_place(plan: Plan, texts: Texts) -> None:
    named = replace(plan, programme=plan.programme.assign(task="\u062d\u0642 <b>\u00e7\u00e3o \u03a9\u0416"))
    assert "\ufffd\ufffd <b>\u00e7\u00e3o \u03a9\u0416" in texts(named)[2]


def test_a_wire_without_a_length_says_so(plan: Plan, texts: Texts) -> None:
    sheets = texts(_without_heights(plan))
    assert "not known" in sheets[0]
    assert "not known" in sheets[3]
    assert "no heights" in sheets[3]


def test_an_adjuster_that_no_kind_reaches_stands_out(plan: Plan, texts: Texts) -> None:
    beyond = replace(plan, adjusters=plan.adjusters.assign(kind=pd.Series([None] * len(plan.adjusters), dtype="str")))
    assert "NO KIND REACHES" in texts(beyond)[3]


def test_rows_and_zones_are_in_the_outline(plan: Plan, write: Callable[[Plan], Path]) -> None:
    entries: list[Any] = pypdf.PdfReader(write(plan)).outline
    titles = [entry["/Title"] for level in entries for entry in (level if isinstance(level, list) else [level])]
    assert titles == [
        "First sheet",
        "Choice of fixings",
        "Tension and fixings",
        "B01-Z01",
        "B01-R001",
        "B01-R002",
        "Winter list",
        "Spring list",
    ]


def test_a_sheet_compares_fixings_the_chosen_first(plan: Plan, texts: Texts) -> None:
    sheet = texts(plan)[1]
    words = set(sheet.split())
    assert {"\u2713", "913", "61", "drill"} <= words
    assert sheet.index("40 \u00d7 screw-fixed clip") < sheet.index("32 \u00d7 open clip")
    assert "not held" in sheet
    assert "removal" in sheet
    # What is not known has a dash, and the post that the other set leaves is counted.
    assert "32 \u00d7 open clip + 8" in " ".join(sheet.split())
    assert "What each block takes" in sheet
    assert texts(replace(plan, fixing_options=plan.fixing_options.iloc[:0]))[1].count("Choice of fixings") == 0


def test_a_fixing_with_a_plus_in_its_name_is_shown_with_its_pieces(plan: Plan, texts: Texts) -> None:
    kinds = plan.fixing_options["kinds"].replace("screw-fixed clip", "clip + screw")
    sheet = texts(replace(plan, fixing_options=plan.fixing_options.assign(kinds=kinds)))[1]
    assert "clip + screw (40)" in " ".join(sheet.split())


def test_a_card_says_which_clips_go_off_their_heights(plan: Plan, texts: Texts) -> None:
    assert not any("ALL CLIPS" in sheet for sheet in texts(plan))
    shift = np.zeros(len(plan.posts))
    shift[1:4] = 0.03, -0.02, 0.03
    sheets = texts(replace(plan, posts=plan.posts.assign(clip_shift_m=shift)))
    said = " ".join(" ".join(sheets).split())
    assert said.count("ALL CLIPS of these posts higher (+) or lower, cm: +3: P002, P004; -2: P003.") == 1
