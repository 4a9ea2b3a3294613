"""The whole document: a first sheet, all zones, the fixings; a sheet for each zone, front and back; the seasons."""

from collections.abc import Mapping
from pathlib import Path

from wirerun.records import Plan
from wirerun.write.cards.choice_page import choice_groups
from wirerun.write.cards.cover import cover_group, method_group
from wirerun.write.cards.facts import ZoneFacts, take_apart
from wirerun.write.cards.print_names import as_printed
from wirerun.write.cards.season_lists import season_groups
from wirerun.write.cards.sheets import Sheet, lay_out, to_whole_paper, write_sheets
from wirerun.write.cards.zone_back import back_groups
from wirerun.write.cards.zone_list import zone_list_groups
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
    write_sheets(plan, path, "field cards", "Trellis wire plan, zone by zone and row by row", card_sheets(plan))


def card_sheets(plan: Plan) -> list[Sheet]:
    """Return all sheets in order, laid out but not drawn; every zone starts on paper of its own."""
    plan = as_printed(plan)
    zones = take_apart(plan)
    by_zone = {facts.zone_id: _zone_sheets(plan, facts) for facts in zones}
    seasons = lay_out("", season_groups(plan, zones))

    def front(pages: Mapping[str, int]) -> list[Sheet]:
        if not zones:
            return lay_out("", [cover_group(plan)])
        listed, choice, method = zone_list_groups(plan, zones, pages), choice_groups(plan), method_group(plan)
        # There is room for it under the list of zones; a plan with one zone has no list.
        rest = ([*listed, method], choice) if listed else ([*choice, method],)
        return to_whole_paper([sheet for part in ([cover_group(plan)], *rest) for sheet in lay_out("", part)])

    # How many sheets the list takes does not hang on the pages it names.
    before = len(front({}))
    pages: dict[str, int] = {}
    for zone, sheets in by_zone.items():
        pages[zone] = before + 1
        before += len(sheets)
    return [*front(pages), *(sheet for sheets in by_zone.values() for sheet in sheets), *seasons]


def _zone_sheets(plan: Plan, facts: ZoneFacts) -> list[Sheet]:
    """Return a zone's pages: its front, then its rows, which begin on a page of their own."""
    zone = facts.zone_id
    return to_whole_paper(lay_out(zone, zone_groups(plan, facts)) + lay_out(zone, back_groups(facts)))
