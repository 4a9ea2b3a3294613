"""The shapes on the sheets. Their meaning lies in the shape alone, so that any printer will do."""

from typing import Final, Literal

from wirerun.write.cards.letters import SMALL
from wirerun.write.cards.pen import BLACK, GREY, WHITE, Pen, Xy

Seat = Literal["over", "under"]

POST_HIGH: Final = 3.6
END_HIGH: Final = 4.8


def draw_seat(pen: Pen, x: float, y: float, seat: Seat, size: float = 2.8) -> None:
    """Draw a two-way clip as one sees it from the side of the post: a bar, and the wire as a dot over or under it."""
    pen.line((x - size / 2.0, y), (x + size / 2.0, y), stroke=0.16 * size)
    radius = 0.27 * size
    shift = radius + 0.12 * size
    pen.dots([(x, y - shift if seat == "over" else y + shift)], radius)


def draw_doubt(pen: Pen, x: float, y: float) -> None:
    """Draw the mark of a post to look at."""
    pen.text(x, y + 1.0, "?", SMALL, bold=True, align="middle")


def draw_post(pen: Pen, x: float, ground: float, *, two_way: bool = False) -> None:
    """Draw an intermediate post on the ground; one with a two-way clip is thick and has a head."""
    pen.line((x, ground), (x, ground - POST_HIGH), stroke=0.6 if two_way else 0.25)
    if two_way:
        head = ground - POST_HIGH
        pen.lines(
            [((x, head - 1.0), (x + 0.9, head), (x, head + 1.0), (x - 0.9, head))], stroke=0.0, fill=BLACK, close=True
        )


def draw_end_post(pen: Pen, x: float, ground: float) -> None:
    """Draw an end post on the ground."""
    pen.box(x - 0.55, ground - END_HIGH, 1.1, END_HIGH, stroke=0.0, fill=BLACK)


def draw_unknown_post(pen: Pen, x: float, ground: float) -> None:
    """Draw a post whose ground height is not known."""
    pen.line((x, ground), (x, ground - POST_HIGH), stroke=0.25, dash=(0.6, 0.6))


def draw_section(pen: Pen, start: float, end: float, y: float) -> None:
    """Draw the bracket of an undulating section, open downwards."""
    pen.lines([((start, y + 1.6), (start, y), (end, y), (end, y + 1.6))], stroke=0.35)


def draw_square(pen: Pen, centre: Xy, side: float = 1.5, *, filled: bool) -> None:
    """Draw an end post on the map: filled at the row's start, open at its far end."""
    x, y = centre
    pen.box(x - side / 2.0, y - side / 2.0, side, side, stroke=0.25, fill=BLACK if filled else WHITE)


def triangle(centre: Xy, size: float = 1.9) -> tuple[Xy, Xy, Xy]:
    """Return the corners of a two-way post's mark on the map."""
    x, y = centre
    return (x, y - 0.62 * size), (x + 0.54 * size, y + 0.38 * size), (x - 0.54 * size, y + 0.38 * size)


def draw_north(pen: Pen, x: float, y: float) -> None:
    """Draw an arrow to true north, its foot at (x, y), 8 mm high with its letter."""
    pen.lines([((x, y - 5.0), (x - 1.5, y), (x, y - 1.2))], stroke=0.2, fill=BLACK, close=True)
    pen.lines([((x, y - 5.0), (x + 1.5, y), (x, y - 1.2))], stroke=0.2, fill=WHITE, close=True)
    pen.text(x, y - 5.6, "N", SMALL, bold=True, align="middle")


def draw_scale_bar(pen: Pen, x: float, y: float, long: float, mm: float, sign: str) -> float:
    """Draw a scale bar of two halves, so many units of so many millimetres long, its foot at y; return its length."""
    half = long * mm / 2.0
    pen.box(x, y - 1.4, half, 1.4, fill=BLACK)
    pen.box(x + half, y - 1.4, half, 1.4, fill=WHITE)
    for share in (0.0, 0.5, 1.0):
        unit = f" {sign}" if share == 1.0 else ""
        pen.text(x + 2.0 * half * share, y - 2.3, f"{long * share:g}{unit}", SMALL, align="middle")
    return 2.0 * half


def draw_hatch_box(pen: Pen, x: float, y: float, wide: float, high: float) -> None:
    """Draw a hatched box, the legend of an exclusion."""
    pen.box(x, y, wide, high)
    steps = [wide * share for share in (0.25, 0.5, 0.75)]
    pen.lines([((x + step, y + high), (x + step + 0.25 * wide, y)) for step in steps], stroke=0.15, grey=GREY)
