"""The whole document: a first sheet, all zones, the fixings; zone by zone its sheet and its rows; the seasons."""

from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from wirerun.records import Plan
from wirerun.write.cards.choice_page import choice_groups
from wirerun.write.cards.cover import cover_group
from wirerun.write.cards.facts import take_apart
from wirerun.write.cards.pen import MM, PAGE_HEIGHT, PAGE_WIDTH
from wirerun.write.cards.print_names import as_printed
from wirerun.write.cards.row_card import row_group
from wirerun.write.cards.season_lists import season_groups
from wirerun.write.cards.sheets import Sheet, lay_out, write_sheets
from wirerun.write.cards.zone_list import zone_list_groups
from wirerun.write.cards.zone_page import zone_groups
from wirerun.write.mark import plan_mark


def write_cards(plan: Plan, path: Path) -> None:
    """Write the field cards of a plan: one PDF, A4, the same bytes for the same plan.

    Parameters
    ----------
    plan : Plan
        What to show. A plan without rows gives the first sheet only.
    path : Path
        The file to write; its folder is made if it is missing.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    name = plan.config.name
    canvas = Canvas(str(path), pagesize=(PAGE_WIDTH * MM, PAGE_HEIGHT * MM), invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(f"{name}: field cards")
    canvas.setSubject("Trellis wire plan, zone by zone and row by row")
    canvas.setAuthor("wirerun")
    canvas.setCreator("wirerun")
    write_sheets(canvas, f"{name}  \N{MIDDLE DOT}  plan {plan_mark(plan)}", card_sheets(plan))
    canvas.save()


def card_sheets(plan: Plan) -> list[Sheet]:
    """Return all sheets in order, laid out but not drawn."""
    plan = as_printed(plan)
    zones = take_apart(plan)
    by_zone: dict[str, list[Sheet]] = {}
    for facts in zones:
        zone = facts.zone_id
        by_zone[zone] = lay_out(zone, zone_groups(plan, facts)) + lay_out(zone, [row_group(c) for c in facts.rows])
    cover, seasons = lay_out("", [cover_group(plan)]), lay_out("", season_groups(plan, zones))
    choice = lay_out("", choice_groups(plan))
    # How many sheets the list takes does not hang on the pages it names.
    before = len(cover) + len(choice) + len(lay_out("", zone_list_groups(plan, zones, {})))
    pages: dict[str, int] = {}
    for zone, sheets in by_zone.items():
        pages[zone] = before + 1
        before += len(sheets)
    listed = lay_out("", zone_list_groups(plan, zones, pages))
    return [*cover, *listed, *choice, *(sheet for sheets in by_zone.values() for sheet in sheets), *seasons]
