"""The whole document: a first sheet, then zone by zone a sheet of its own and the cards of its rows."""

from pathlib import Path

from reportlab.pdfgen.canvas import Canvas

from wirerun.records import Plan
from wirerun.write.cards.choice_page import choice_groups
from wirerun.write.cards.cover import cover_group
from wirerun.write.cards.facts import take_apart
from wirerun.write.cards.pen import MM, PAGE_HEIGHT, PAGE_WIDTH
from wirerun.write.cards.print_names import as_printed
from wirerun.write.cards.row_card import row_group
from wirerun.write.cards.sheets import Sheet, lay_out, write_sheets
from wirerun.write.cards.zone_page import zone_groups


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
    write_sheets(canvas, name, card_sheets(plan))
    canvas.save()


def card_sheets(plan: Plan) -> list[Sheet]:
    """Return all sheets in order, laid out but not drawn."""
    plan = as_printed(plan)
    sheets = lay_out("", [cover_group(plan), *choice_groups(plan)])
    for facts in take_apart(plan):
        zone = facts.zone_id
        sheets += lay_out(zone, zone_groups(plan, facts))
        sheets += lay_out(zone, [row_group(card) for card in facts.rows])
    return sheets
