"""One sheet of paper a zone: where zones begin, what stands on their backs, and what every page bears."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from wirerun.records import Plan
from wirerun.settings import Config
from wirerun.settings.catalogue import PostItem
from wirerun.write.mark import plan_mark

Texts = Callable[[Plan], list[str]]


def set_to(plan: Plan, **output: Any) -> Plan:  # noqa: ANN401 - any settings
    """Return the plan with other settings of how it is written."""
    config = plan.config.model_dump(exclude_unset=True)
    return replace(plan, config=Config.model_validate(config | {"output": output}))


def in_zones(plan: Plan, rows_each: list[int]) -> Plan:
    """Return the plan with its rows in zones of so many."""
    names = [f"B01-Z{zone + 1:02d}" for zone, many in enumerate(rows_each) for _ in range(many)]
    of_row = dict(zip(plan.rows["row_id"], names, strict=True))
    zones = plan.zones.iloc[[0] * len(rows_each)].assign(zone_id=list(dict.fromkeys(names))).reset_index(drop=True)
    coils = plan.coils.assign(zone_id=plan.coils["row_id"].map(of_row))
    return replace(plan, rows=plan.rows.assign(zone_id=names), zones=zones, coils=coils)


def zone_of(sheet: str) -> str:
    """Return what the foot of a sheet says it is of."""
    found = re.search(r"Zone (B01-Z\d+) (?:.*)page|All zones", sheet.split("\n", maxsplit=1)[0])
    return (found and found[1]) or ""


@pytest.mark.parametrize("rows_each", [[1, 2, 6], [3, 1], [2, 2, 2, 2]])
def test_a_zone_of_up_to_six_short_rows_takes_one_sheet_and_begins_on_an_odd_page(
    plan_maker: Callable[..., Plan], texts: Texts, rows_each: list[int]
) -> None:
    plan = in_zones(plan_maker((9,) * sum(rows_each)), rows_each)
    sheets = texts(plan)
    pages: dict[str, list[int]] = {}
    for page, sheet in enumerate(sheets, start=1):
        pages.setdefault(zone_of(sheet), []).append(page)
    zones = [f"B01-Z{zone + 1:02d}" for zone in range(len(rows_each))]
    assert [zone for zone in pages if zone] == zones
    for zone in zones:
        first, second = pages[zone]
        assert first % 2 == 1
        assert second == first + 1
        assert f"\nZone {zone}\n" in sheets[first - 1]
        assert "Set the wires, N" in sheets[second - 1]
    listed = next(sheet for sheet in sheets if "Zones in working order" in sheet)
    for zone in zones:
        (line,) = (line for line in listed.split("\n") if zone in line)
        assert line.split()[-1] == str(pages[zone][0])


def test_a_zone_that_needs_more_takes_whole_sheets_with_room_for_notes(
    plan_maker: Callable[..., Plan], texts: Texts
) -> None:
    plan = in_zones(plan_maker((60,) * 6), [5, 1])
    sheets = texts(plan)
    pages = [page for page, sheet in enumerate(sheets, start=1) if zone_of(sheet) == "B01-Z01"]
    assert pages[0] % 2 == 1
    assert len(pages) % 2 == 0
    assert len(pages) > 2
    rows = [row for page in pages for row in re.findall(r"^B01-R\d+ \d+\.\d m", sheets[page - 1], re.MULTILINE)]
    assert len(rows) == 5


def test_posts_are_told_with_their_depth_and_where_the_tape_stands(plan: Plan, texts: Texts) -> None:
    items = [("line post", "intermediate", 2.6), ("end post", "end", 2.8)]
    fields: dict[str, Any] = {"depth_m": 0.6, "width_mm": 80, "material": "timber", "minutes": 7.0}
    fields |= {"specific_gravity": 0.46, "pull_out_n": 883.0, "tool": "auger", "price": 4.6, "source": "choice"}
    posts = tuple(
        PostItem(id=name, kind=kind, length_m=long, date="2026-11-25", **fields) for name, kind, long in items
    )
    front, back = texts(replace(plan, catalogue=replace(plan.catalogue, posts=posts)))[2:4]
    said = " ".join(front.split())
    assert "End posts: end post, 1.90 m out, 0.90 m deep, anchored end" in said
    assert "posts between: line post, 1.90 m out, 0.70 m deep" in said
    assert "a competent person" in said
    first = back[back.index("B01-R001") : back.index("B01-R002")]
    assert "P003: line post, 2.20 m out, 0.40 m deep" in first  # the only one that is taller
    assert "Tape on the ground from P001, m: 2 6.00 3 12.00 4 18.00 5 24.00" in " ".join(first.split())
    # A height is missing in the second row: what a tape on the ground would read is not known there.
    assert "Tape held level (heights missing) from P001" in " ".join(back[back.index("B01-R002") :].split())
    # Both ends have their places for a receiver: the last post of the first row stands 24 m east of its first.
    assert "Ends: P001 41.1700000 -7.5100000, P005 41.1700000 -7.5097139." in " ".join(first.split())


def test_a_post_to_look_at_has_a_box_and_the_back_says_what_to_do(plan: Plan, texts: Texts) -> None:
    front, back = (" ".join(sheet.split()) for sheet in texts(plan)[2:4])
    assert "look: \u25a1P003" in back
    assert "further below the string than 40 mm." in back
    # The block's two-way posts have screw-fixed clips; the post that is looked at takes 8 of them, and 2 are spare.
    assert "clips for lower, at all their heights, to screw-fixed clip, wire UNDER" in back
    assert "Take 8 along, of the 2 spares ordered for all zones." in back
    assert "screw-fixed clip, for ? 8 spares" in front
    assert "Tick the box" in back
    sure = plan.clips.assign(look_on_site="no")
    front, back = texts(replace(plan, clips=sure))[2:4]
    assert "?" not in front.replace("To load", "")
    assert "Tick the box" not in back


def test_a_block_without_two_way_clips_says_so_where_a_post_is_to_be_looked_at(plan: Plan, texts: Texts) -> None:
    clips = plan.clips.assign(clip=plan.clips["clip"].replace("two-way", "one-way"))
    back = " ".join(texts(replace(plan, clips=clips))[3].split())
    assert "a two-way clip of the catalogue (the plan has none here)" in back
    assert "none is ordered beyond the plan" in back


METRIC_UNIT = re.compile(r"(?<![\w'\"])(?:\d[\d.]*\s?)?(?:mm|cm|m|km|ha|N|kN|Nm|kg|metres?|\u00b0C)(?![\w'])")


def test_nothing_metric_is_left_on_imperial_cards_but_names_of_the_catalogue(plan: Plan, texts: Texts) -> None:
    """The compass's north apart, which stands alone on its line."""
    named = {*plan.materials["item"], *plan.wires["wire_item"].dropna(), *plan.coils["wire_item"]}
    for sheet in texts(set_to(plan, units="imperial")):
        for line in sheet.split("\n"):
            for name in named:
                line = line.replace(name, "")  # noqa: PLW2901
            if line.strip() != "N":
                assert not METRIC_UNIT.findall(line), line
    assert any(METRIC_UNIT.findall(line) for sheet in texts(plan) for line in sheet.split("\n"))


def test_imperial_cards_say_the_same_in_feet_inches_and_pounds(plan: Plan, texts: Texts) -> None:
    cover, _, front, back = texts(set_to(plan, units="imperial"))[:4]
    front, back = " ".join(front.split()), " ".join(back.split())
    assert f"{plan.wires['run_out_m'].sum() / 0.3048:.0f}" in cover.split("\n")
    assert "lower: 47 strung, 57 lifted, 67 lifted." in " ".join(cover.split())
    assert "2 rows \u00b7 138 ft" in front
    assert "368.6 ft" in front  # 112.35 m of wire
    assert "Tape on the ground from P001: 2 19'8\" 3 39'5\"" in back
    assert "75 in out" in front
    assert "300 N" not in back
    assert "lower, 0.098 in 47 (57, 67) 67 67: 2.7\u20133.0" in back
    assert "far: 5\u00bc in, 1.7 turns" in back
    assert "at 59 \u00b0F at 32 \u00b0F at 68 \u00b0F" in back


def test_every_page_bears_the_plans_mark_and_the_date_as_written(plan: Plan, texts: Texts) -> None:
    dated = set_to(plan, date="plan of 2026-11-29")
    assert plan_mark(dated) == plan_mark(plan)  # how it is written makes no other plan
    for sheet in texts(dated):
        foot = sheet.split("\n")[0]
        assert f"plan {plan_mark(plan)}" in foot
        assert "plan of 2026-11-29" in foot
    assert not any("2026" in sheet.split("\n")[0] for sheet in texts(plan))


def test_a_long_name_does_not_crowd_out_the_mark(plan: Plan, texts: Texts) -> None:
    named = replace(plan, config=plan.config.model_copy(update={"name": "n" * 64}))
    assert all(f"plan {plan_mark(named)}" in sheet for sheet in texts(named))


def test_the_same_dated_plan_gives_the_same_bytes(plan: Plan, write: Callable[[Plan], Path]) -> None:
    dated = set_to(plan, date="spring", units="imperial")
    assert write(dated).read_bytes() == write(dated).read_bytes()


def test_without_spares_in_the_order_none_are_promised(plan: Plan, texts: Texts) -> None:
    none = replace(plan, materials=plan.materials.assign(spare_quantity=0))
    assert "none is ordered beyond the plan" in " ".join(texts(none)[3].split())
