"""Signs in black and white: each is told from every other by its shape or its dashes, when all greys are gone."""

from collections.abc import Callable
from contextlib import closing
from io import BytesIO
from itertools import combinations

import numpy as np
import pypdfium2 as pdfium
import pytest
from numpy.typing import NDArray
from reportlab.pdfgen.canvas import Canvas
from wirerun.write.cards.cover import SIGNS
from wirerun.write.cards.pen import GREY, MM, PAGE_HEIGHT, Pen
from wirerun.write.cards.zone_map import MAP_MARKS

SIDE_MM = 12.0
DOTS_PER_MM = 12
INK = 200  # of 255: what a copier turns black; a pale guide line stays white


def seen(draw: "Draw") -> NDArray[np.bool_]:
    """Return what of a square of 12 mm is black once a copier has made every grey black or white."""
    file = BytesIO()
    canvas = Canvas(file, pagesize=(SIDE_MM * MM, SIDE_MM * MM), invariant=1)
    canvas.translate(0.0, (SIDE_MM - PAGE_HEIGHT) * MM)
    draw(Pen(canvas))
    canvas.save()
    with closing(pdfium.PdfDocument(file.getvalue())) as document:
        picture = document[0].render(scale=DOTS_PER_MM / MM, grayscale=True).to_numpy()
    return np.asarray(picture).reshape(picture.shape[:2]) < INK


def differ(one: NDArray[np.bool_], other: NDArray[np.bool_]) -> float:
    """Return the share of the ink of both that only one of them has."""
    return float((one ^ other).sum() / max((one | other).sum(), 1))


Draw = Callable[[Pen], object]


def placed(sign: Callable[[Pen, float, float], object], x: float, y: float) -> Draw:
    """Return what draws a sign at a place."""
    return lambda pen: sign(pen, x, y)


STRIP = [(words, placed(sign, 6.0, 7.0)) for sign, words in SIGNS]
MAP = [(words, placed(mark, 6.0 - wide / 2.0, 6.0)) for wide, mark, words in MAP_MARKS]


@pytest.mark.parametrize("signs", [STRIP, MAP], ids=["strip", "map"])
def test_signs_differ_in_shape_when_greys_are_gone(signs: list[tuple[str, Draw]]) -> None:
    pictures = {words: seen(draw) for words, draw in signs}
    assert all(picture.any() for picture in pictures.values())
    for (one, left), (other, right) in combinations(pictures.items(), 2):
        assert differ(left, right) > 0.3, (one, other)


def test_marks_that_differ_in_grey_alone_are_taken_for_the_same() -> None:
    def line(grey: float) -> Draw:
        return lambda pen: pen.line((2.0, 6.0), (9.0, 6.0), stroke=0.5, grey=grey)

    assert differ(seen(line(0.0)), seen(line(GREY))) < 0.05
