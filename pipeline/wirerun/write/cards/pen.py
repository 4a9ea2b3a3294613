"""A pen on the sheet: text, lines and simple shapes, in millimetres from the top left corner, y downwards."""

import math
from collections.abc import Iterable, Sequence
from typing import Final, Literal

from reportlab.pdfgen.canvas import Canvas

from wirerun.write.cards.letters import clean, pieces, shorten, width

MM: Final = 72.0 / 25.4
PAGE_WIDTH: Final = 210.0  # A4, ISO 216
PAGE_HEIGHT: Final = 297.0
MARGIN: Final = 12.0
LEFT: Final = MARGIN
RIGHT: Final = PAGE_WIDTH - MARGIN
WIDTH: Final = RIGHT - LEFT

BLACK: Final = 0.0
GREY: Final = 0.45
PALE: Final = 0.75
WHITE: Final = 1.0

Xy = tuple[float, float]


class Pen:
    """Draws on the current page of a canvas. Greys run from 0, black, to 1, white; strokes are millimetres wide."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas = canvas

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        align: Literal["left", "right", "middle"] = "left",
        room: float | None = None,
    ) -> float:
        """Write one line with its baseline at y, shortened to `room` if given; return its width."""
        shown = clean(text) if room is None else shorten(text, size, room, bold=bold)
        wide = width(shown, size, bold=bold)
        start = x - {"left": 0.0, "middle": wide / 2.0, "right": wide}[align]
        self._write(start * MM, (PAGE_HEIGHT - y) * MM, shown, size, bold=bold)
        return wide

    def slanted_text(self, line: tuple[Xy, Xy], text: str, size: float) -> None:
        """Write along a line, from its start, halfway up the letters on it."""
        (x, y), (x2, y2) = line
        self._canvas.saveState()
        self._canvas.translate(x * MM, (PAGE_HEIGHT - y) * MM)
        self._canvas.rotate(math.degrees(math.atan2(y - y2, x2 - x)))
        self._write(0.0, -0.36 * size, clean(text), size)
        self._canvas.restoreState()

    def _write(self, x: float, y: float, text: str, size: float, *, bold: bool = False) -> None:
        """Write a cleaned text from a place in points, piece by piece in the faces that have its letters."""
        self._canvas.setFillGray(BLACK)
        line = self._canvas.beginText(x, y)
        for name, piece in pieces(text, bold=bold):
            line.setFont(name, size)
            line.textOut(piece)
        self._canvas.drawText(line)

    def lines(
        self,
        paths: Iterable[Sequence[Xy]],
        *,
        stroke: float = 0.2,
        grey: float = BLACK,
        dash: tuple[float, ...] = (),
        fill: float | None = None,
        close: bool = False,
    ) -> None:
        """Draw many lines, or closed shapes, in one go; `fill` is the grey inside, holes left out."""
        path = self._canvas.beginPath()
        drawn = False
        for points in paths:
            if len(points) < 2:
                continue
            path.moveTo(points[0][0] * MM, (PAGE_HEIGHT - points[0][1]) * MM)
            for x, y in points[1:]:
                path.lineTo(x * MM, (PAGE_HEIGHT - y) * MM)
            if close:
                path.close()
            drawn = True
        if not drawn:
            return
        self._style(stroke, grey, dash, fill)
        self._canvas.drawPath(path, stroke=int(stroke > 0.0), fill=int(fill is not None), fillMode=0)

    def line(
        self, start: Xy, end: Xy, *, stroke: float = 0.2, grey: float = BLACK, dash: tuple[float, ...] = ()
    ) -> None:
        """Draw one straight line."""
        self.lines([(start, end)], stroke=stroke, grey=grey, dash=dash)

    def box(
        self, x: float, y: float, wide: float, high: float, *, stroke: float = 0.2, fill: float | None = None
    ) -> None:
        """Draw a rectangle from its top left corner."""
        corners = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
        self.lines([corners], stroke=stroke, fill=fill, close=True)

    def dots(self, centres: Iterable[Xy], radius: float, *, fill: float = BLACK, stroke: float = 0.0) -> None:
        """Draw many dots of one size."""
        path = self._canvas.beginPath()
        for x, y in centres:
            path.circle(x * MM, (PAGE_HEIGHT - y) * MM, radius * MM)
        self._style(stroke, BLACK, (), fill)
        self._canvas.drawPath(path, stroke=int(stroke > 0.0), fill=1)

    def _style(self, stroke: float, grey: float, dash: tuple[float, ...], fill: float | None) -> None:
        self._canvas.setLineWidth(stroke * MM)
        self._canvas.setStrokeGray(grey)
        self._canvas.setDash([part * MM for part in dash])
        if fill is not None:
            self._canvas.setFillGray(fill)
