"""How blocks of a given height are laid on sheets, and the sheets drawn, each with its foot.

All sheets are known before the first is drawn, so that each foot can say how many there are.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from reportlab.pdfgen.canvas import Canvas

from wirerun.records import Plan
from wirerun.write.cards.letters import BODY, MAIN, clean, leading
from wirerun.write.cards.pen import GREY, LEFT, MARGIN, MM, PAGE_HEIGHT, PAGE_WIDTH, PALE, RIGHT, WIDTH, Pen
from wirerun.write.mark import plan_mark

TOP: Final = MARGIN
BOTTOM: Final = PAGE_HEIGHT - MARGIN - 6.0  # above the foot
ROOM: Final = BOTTOM - TOP
_RULE: Final = 9.0  # between two lines to write on


@dataclass(frozen=True, slots=True)
class Block:
    """What is never parted: its height [mm], and how it is drawn from a top [mm] downwards."""

    height: float
    draw: Callable[[Pen, float], None]


@dataclass(frozen=True, slots=True)
class Group:
    """Blocks that belong together: on one sheet where they fit on one, else parted between blocks.

    `title` goes into the PDF's outline, and over what is carried to another sheet; `again` follows it there.
    """

    title: str
    blocks: tuple[Block, ...]
    gap: float = 4.0
    again: Block | None = None

    @property
    def height(self) -> float:
        """Return the height of all blocks [mm]."""
        return sum(block.height for block in self.blocks)


@dataclass(slots=True)
class Sheet:
    """One sheet: its zone, what begins on it, and the blocks on it with their tops."""

    zone: str
    placed: list[tuple[float, Block]] = field(default_factory=list)
    titles: list[str] = field(default_factory=list)
    used: float = TOP

    def put(self, block: Block) -> None:
        """Place a block below the others."""
        self.placed.append((self.used, block))
        self.used += block.height


def lay_out(zone: str, groups: Iterable[Group]) -> list[Sheet]:
    """Return the sheets of a zone, filled from the top; at least one if there is any group."""
    sheets: list[Sheet] = []
    for group in groups:
        room = BOTTOM - sheets[-1].used if sheets else 0.0
        if not sheets or (group.height > room and (group.height <= ROOM or room < ROOM / 3.0)):
            sheets.append(Sheet(zone))
        if group.title:
            sheets[-1].titles.append(group.title)
        for block in group.blocks:
            if sheets[-1].used + block.height > BOTTOM and sheets[-1].placed:
                sheets.append(Sheet(zone))
                if group.title:
                    sheets[-1].put(_carried(group.title))
                if group.again:
                    sheets[-1].put(group.again)
            sheets[-1].put(block)
        sheets[-1].used += group.gap
    return sheets


def to_whole_paper(sheets: list[Sheet]) -> list[Sheet]:
    """Return the sheets, and one for notes where they are odd in number: what follows starts on paper of its own."""
    if len(sheets) % 2 == 0:
        return sheets
    notes = Sheet(sheets[-1].zone)
    notes.put(text_block(["Notes"], MAIN, bold=True))
    notes.put(Block(ROOM - notes.used + TOP, _ruled))
    return [*sheets, notes]


def _ruled(pen: Pen, top: float) -> None:
    """Draw lines to write on."""
    for number in range(1, int((BOTTOM - top) // _RULE) + 1):
        pen.line((LEFT, top + number * _RULE), (RIGHT, top + number * _RULE), grey=PALE)


def text_block(lines: Iterable[str], size: float, *, bold: bool = False, after: float = 0.0) -> Block:
    """Return a block of lines under each other, and `after` [mm] of room below."""
    kept = tuple(lines)

    def draw(pen: Pen, top: float) -> None:
        for number, line in enumerate(kept, start=1):
            pen.text(LEFT, top + number * leading(size) - 0.25 * leading(size), line, size, bold=bold)

    return Block(len(kept) * leading(size) + after, draw)


def write_sheets(plan: Plan, path: Path, called: str, subject: str, sheets: list[Sheet]) -> None:
    """Write a PDF of sheets, A4; the plan's mark and name and the config's date stand at the foot of each."""
    path.parent.mkdir(parents=True, exist_ok=True)
    canvas = Canvas(str(path), pagesize=(PAGE_WIDTH * MM, PAGE_HEIGHT * MM), invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(f"{plan.config.name}: {called}")
    canvas.setSubject(subject)
    canvas.setAuthor("wirerun")
    canvas.setCreator("wirerun")
    # The mark first: a long name is cut at its end.
    name, date = f"plan {plan_mark(plan)}  \N{MIDDLE DOT}  {plan.config.name}", plan.config.output.date or ""
    pen = Pen(canvas)
    for number, sheet in enumerate(sheets, start=1):
        page = f"page {number} of {len(sheets)}"
        _draw_foot(pen, sheet, name, f"{date}  \N{MIDDLE DOT}  {page}" if date else page)
        for title in sheet.titles:
            key = f"{number}:{title}"
            canvas.bookmarkPage(key)
            canvas.addOutlineEntry(clean(title), key, level=0 if title == sheet.zone or not sheet.zone else 1)
        for top, block in sheet.placed:
            block.draw(pen, top)
        canvas.showPage()
    canvas.save()


def _draw_foot(pen: Pen, sheet: Sheet, name: str, number: str) -> None:
    """Draw the foot: plan, zone, page."""
    foot = PAGE_HEIGHT - MARGIN
    pen.line((LEFT, foot - 4.2), (RIGHT, foot - 4.2), grey=GREY)
    zone = f"Zone {sheet.zone}" if sheet.zone else "All zones"
    wide = pen.text(PAGE_WIDTH / 2.0, foot - 0.4, zone, MAIN, bold=True, align="middle", room=WIDTH / 2.0)
    side = (WIDTH - wide) / 2.0 - 3.0
    pen.text(LEFT, foot - 0.4, name, BODY, room=side)
    pen.text(RIGHT, foot - 0.4, number, BODY, align="right", room=side)


def _carried(title: str) -> Block:
    return text_block([f"{title}, continued"], MAIN, bold=True, after=1.5)
