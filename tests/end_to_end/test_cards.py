"""The cards of the sample estate: every figure on a row's card is the schedule's."""

import dataclasses
import os
import re
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from itertools import pairwise
from pathlib import Path
from typing import Any

import pandas as pd
import pypdf
import pypdfium2 as pdfium
import pytest
from wirerun import load_config, plan_config
from wirerun.records import Plan
from wirerun.rounding import rounded
from wirerun.tables import as_lines
from wirerun.write.cards import write_cards
from wirerun.write.mark import plan_mark

ROOT = Path(__file__).parents[2]
CONFIG = ROOT / "configs" / "encosta_nova.toml"
SCRIPT = f"""
from pathlib import Path
from typing import Any
from wirerun import load_config, plan_config
from wirerun.write.cards import write_cards
write_cards(plan_config(load_config({str(CONFIG)!r})), Path("again.pdf"))
"""


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_config(load_config(CONFIG))


@pytest.fixture(scope="module")
def path(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("cards") / "field_cards.pdf"
    write_cards(plan, path)
    return path


@pytest.fixture(scope="module")
def sheets(path: Path) -> list[str]:
    with closing(pdfium.PdfDocument(path)) as document:
        return [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in document]


@pytest.fixture(scope="module")
def cards(plan: Plan, sheets: list[str]) -> dict[str, str]:
    """The text of each row's card, by its id: from its own line to the next card's, or to the end of the sheet."""
    ids = set(plan.rows["row_id"])
    found: dict[str, list[str]] = {}
    for sheet in sheets:
        here: list[str] = []
        for line in sheet.split("\n"):
            words = line.split(" ")
            if words[0] in ids and " posts " in line:
                here = found.setdefault(words[0], [])
            here.append(line)
    return {row: "\n".join(lines) for row, lines in found.items()}


def test_every_row_has_one_card_and_every_zone_a_sheet(plan: Plan, sheets: list[str], cards: dict[str, str]) -> None:
    assert sorted(cards) == plan.rows["row_id"].tolist()
    titles = [sheet.split("\n")[1] for sheet in sheets if "What to do, in this order" in sheet]
    assert titles == [f"Zone {zone}" for zone in plan.zones["zone_id"]]


def test_lengths_coils_and_tensions_are_the_schedules(plan: Plan, cards: dict[str, str]) -> None:
    for row in as_lines(plan.rows):
        assert f"{rounded(row['length_m'], 1):.1f} m \u00b7 {row['posts']} posts" in cards[row["row_id"]]
        assert f"{row['two_way_posts']} two-way" in cards[row["row_id"]]
    for wire in as_lines(plan.wires):
        assert f"{wire['lines']} \u00d7 {rounded(wire['run_out_m'] / wire['lines'], 1):.1f}" in cards[wire["row_id"]]
        bears = wire["unclipped_n"] <= wire["knot_bears_n"]
        assert bears != (
            f"{wire['wire_id']} at {10 * rounded(wire['unclipped_n'] / 10):.0f} N" in _flat(cards[wire["row_id"]])
        )
    for row_id, cuts in plan.coils.groupby("row_id"):
        wanted = {
            (cut["coil_id"], f"{rounded(cut['from_m'], 1):.1f}", f"{rounded(cut['to_m'], 1):.1f}")
            for cut in as_lines(cuts)
        }
        assert _cuts(cards[str(row_id)]) == wanted
    for adjuster in as_lines(plan.adjusters):
        assert f"{adjuster['end']}: {5 * rounded(adjuster['take_up_mm'] / 5):.0f} mm" in _flat(
            cards[adjuster["row_id"]]
        )


def _flat(text: str) -> str:
    return " ".join(text.split())


def _cuts(card: str) -> set[tuple[str, str, str]]:
    """Return coil, and what has run off before and after, of each length: C001 0.0-18.0-36.0 are two."""
    told = re.findall(r"(C\d+) (\d+\.\d(?:\u2013\d+\.\d)+)", card)
    return {(coil, *pair) for coil, marks in told for pair in pairwise(marks.split("\u2013"))}


def test_posts_stand_where_the_tape_along_the_ground_says(plan: Plan, cards: dict[str, str]) -> None:
    """Summed anew from the spans, which are as long as their chord: feet of posts lie as far apart as wires on them."""
    spans = plan.spans[plan.spans["wire_id"] == "fruiting"].sort_values("span_id")
    taped = spans.groupby("row_id")["chord_m"].cumsum()
    for row_id, mine in spans.assign(taped=taped).groupby("row_id"):
        told = _flat(cards[str(row_id)])
        tape = told[told.index("Tape on the ground from P001, m:") :]
        for span in as_lines(mine):
            assert f" {int(span['to_post'][-3:])} {rounded(span['taped'], 2):.2f}" in tape


def test_wires_are_set_and_checked_as_the_schedule_says(plan: Plan, sheets: list[str]) -> None:
    """Each row's readings lie within what its zone's sheet tells, and no further apart than it says."""
    zone = plan.rows.set_index("row_id")["zone_id"]
    backs: dict[str, str] = {}
    for sheet in sheets:
        found = re.search(r"Zone (\S+) page", sheet.split("\n")[0])
        if found:
            backs[found[1]] = backs.get(found[1], "") + "\n" + sheet
    checks = plan.tension_check.pivot_table(index=["row_id", "wire_id"], columns="temperature_c")
    for row_id, wire_id in checks.index:
        check, row = checks.loc[[(row_id, wire_id)]].iloc[0], row_id.rsplit("-", 1)[-1]
        lines = [
            line
            for line in backs[zone[row_id]].split("\n")
            if line.startswith(f"{wire_id}, ") and ("mm:" not in line or row in line)
        ]
        told = re.findall(r"(\d+): (\d+\.\d)\u2013(\d+\.\d)", " ".join(lines))
        assert len(told) == 4, lines
        for celsius, (tension, low, high) in zip(sorted(set(plan.tension_check["temperature_c"])), told, strict=True):
            assert float(tension) == 10 * rounded(check["tension_n", celsius] / 10)
            assert -0.25 <= check["gauge_n", celsius] - float(low) <= 1.25
            assert -0.25 <= float(high) - check["gauge_stuck_n", celsius] <= 1.25


def test_every_two_way_post_is_named_with_the_side_of_its_wire(plan: Plan, cards: dict[str, str]) -> None:
    two_way = plan.clips[plan.clips["clip"] == "two-way"]
    for seat in ("under", "over"):
        mine = two_way[two_way["seat"] == seat]
        wanted = {row: set(ids.str[-4:]) for row, ids in mine.groupby("row_id")["post_id"]}
        for row, card in cards.items():
            assert _named(card, f"wire {seat.upper()}: ") == wanted.get(row, set())


def _named(card: str, title: str) -> set[str]:
    """Return the posts that follow a title, ranges spelt out, up to the first word that is none."""
    words = card.replace("\n", " ")
    posts: set[str] = set()
    for part in words[words.find(title) + len(title) :].split(" ") if title in words else []:
        ends = part.rstrip(",").split("\u2013")
        if not all(len(end) == 4 and end[0] == "P" for end in ends):
            break
        posts |= {f"P{post:03d}" for post in range(int(ends[0][1:]), int(ends[-1][1:]) + 1)}
        if not part.endswith(","):
            break
    return posts


def test_a_zone_is_told_its_work_and_what_to_load(plan: Plan, sheets: list[str]) -> None:
    by_zone: dict[str, str] = {}
    for sheet in sheets:  # what to load may stand on another sheet of the zone
        found = re.search(r"Zone (\S+) page", sheet.split("\n")[0])
        if found:
            by_zone[f"Zone {found[1]}"] = by_zone.get(f"Zone {found[1]}", "") + sheet
    for task in as_lines(plan.programme):
        assert f"{task['step']} {task['task']}" in by_zone[f"Zone {task['zone_id']}"]
    assert all("Strain only when the wire is in every clip." in sheet for sheet in by_zone.values())
    things = plan.zone_materials[plan.zone_materials["unit"] == "piece"]
    for thing in as_lines(things[things["kind"] != "tool"]):
        assert f"{thing['quantity']:.0f} piece" in by_zone[f"Zone {thing['zone_id']}"]


def test_the_first_sheet_has_the_schedules_totals(plan: Plan, sheets: list[str]) -> None:
    words = sheets[0].split("\n")
    totals = (len(plan.rows), len(plan.posts), len(plan.zones))
    assert all(f"{total:,}".replace(",", " ") in words for total in totals)
    ordered = plan.materials.set_index("kind")[["quantity", "spare_quantity"]].sum(axis=1)
    said = " ".join(sheets[0].split())
    for kind, name in (("adjuster", "slack adjusters"), ("wire", "coils of wire")):
        assert f"{ordered[[kind]].sum()} {name}" in said
    assert ordered[["wire"]].sum() > plan.coils["coil_id"].nunique()  # spares with them
    assert f"{plan.wires['run_out_m'].sum():,.0f}".replace(",", " ") in words
    two_way = pd.unique(plan.clips.loc[plan.clips["clip"] == "two-way", "post_id"])
    assert str(len(two_way)) in words


def test_another_process_writes_the_same_bytes(path: Path, tmp_path: Path) -> None:
    surroundings = os.environ | {"PYTHONHASHSEED": "7"}
    subprocess.run([sys.executable, "-c", SCRIPT], cwd=tmp_path, env=surroundings, check=True)  # noqa: S603 - our own words
    assert (tmp_path / "again.pdf").read_bytes() == path.read_bytes()
    assert path.stat().st_size < 5_000_000


@pytest.mark.parametrize(("name", "printed"), [("北坡", "北坡"), ("حقل", "B01")])
def test_a_block_of_any_name_is_on_its_cards(
    make_scene: Callable[..., Any], tmp_path: Path, name: str, printed: str
) -> None:
    """By its own name, or by its number where that name cannot be printed; then a finding says so."""
    scene = make_scene(lambda x, y: 300.0 + 0.1 * y + 0.0 * x, [(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (0.0, 20.0)])
    scene.write_outline([(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (0.0, 20.0)], block=name)
    plan = plan_config(scene.config())
    write_cards(plan, tmp_path / "cards.pdf")
    text = "".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "cards.pdf").pages)
    assert all(row.replace(name, printed) in text for row in plan.rows["row_id"])
    told = plan.findings[plan.findings["code"] == "block-not-printed"]
    assert told["place"].tolist() == ([] if printed == name else [name])
    # Everywhere else the block keeps its name.
    assert plan.rows["block_id"].eq(name).all()


def test_the_list_of_zones_names_the_page_of_each(plan: Plan, sheets: list[str]) -> None:
    listed = {}
    for sheet in sheets[:8]:
        for line in sheet.split("\n"):
            found = re.fullmatch(r"\W*(B\d\d-Z\d\d) \S+ (?:to \S+ )?.* (\d+)\s*", line)
            if found:
                listed[found[1]] = int(found[2])
    assert list(listed) == plan.zones["zone_id"].tolist()
    for zone, page in listed.items():
        assert sheets[page - 1].split("\n")[1] == f"Zone {zone}"
        assert page % 2 == 1  # paper of its own


def test_nearly_every_zone_is_one_sheet_of_paper(plan: Plan, sheets: list[str]) -> None:
    """More only where four rows and more, one of them longer than 80 m, lie in one zone."""
    pages = pd.Series([found[1] for sheet in sheets if (found := re.search(r"Zone (\S+) page", sheet.split("\n")[0]))])
    more = pages.value_counts().loc[lambda many: many > 2]
    assert len(more) <= 3
    rows = plan.rows.groupby("zone_id")["length_m"]
    assert (rows.size()[more.index] >= 4).all()
    assert (rows.max()[more.index] > 80.0).all()
    assert len(sheets) <= 2 * len(plan.zones) + 30


def test_the_winter_list_has_every_adjuster_once(plan: Plan, sheets: list[str]) -> None:
    """Each wire that is let out stands there with how far, a row's name once."""
    text = "\n".join(sheet for sheet in sheets if "Winter list" in sheet)
    winter = text[: text.index("Spring list")] if "Spring list" in text else text
    out = plan.wires[plan.wires["take_up_mm"] > 0.0].merge(
        plan.adjusters.drop_duplicates(["row_id", "wire_id"])[["row_id", "wire_id", "kind"]]
    )
    told = len(re.findall(r"let\s+out", winter))
    up = (5 * (out["left_posts_up"] > 0.0) * (out["left_up_m"] * 10.0).round()).astype(int)
    alike = out.assign(mm=(out["take_up_mm"] / 5).round(), up=up).drop_duplicates(
        ["row_id", "kind", "mm", "left_posts_up", "up"]
    )
    assert told == len(alike)
    for row in plan.rows["row_id"]:
        assert winter.count(f"{row}") >= 1


def test_every_sheet_has_the_plans_mark(plan: Plan, sheets: list[str]) -> None:
    assert all(f"plan {plan_mark(plan)}" in sheet for sheet in sheets)
    other = dataclasses.replace(plan, config=plan.config.model_copy(update={"name": "other"}))
    assert plan_mark(other) != plan_mark(plan)
