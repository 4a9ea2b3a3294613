"""The cards of a plan, read back by two readers of PDF that know nothing of the writer."""

from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pypdfium2 as pdfium
import pytest
from wirerun.records import Plan
from wirerun.write.cards import letters as type_case
from wirerun.write.cards import write_cards

Box = tuple[float, float, float, float]


@pytest.fixture
def write(tmp_path: Path) -> Callable[[Plan], Path]:
    """Return a function that writes the cards of a plan and says where."""
    numbers: Iterator[int] = iter(range(1000))

    def written(plan: Plan) -> Path:
        path = tmp_path / f"{next(numbers)}.pdf"
        write_cards(plan, path)
        return path

    return written


@pytest.fixture
def texts(write: Callable[[Plan], Path]) -> Callable[[Plan], list[str]]:
    """Return a function that gives the text of each sheet of a plan."""

    def read(plan: Plan) -> list[str]:
        with closing(pdfium.PdfDocument(write(plan))) as document:
            return [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in document]

    return read


@pytest.fixture
def letters(write: Callable[[Plan], Path]) -> Callable[[Plan], list[list[tuple[str, Box]]]]:
    """Return a function that gives each letter of each sheet with its box: left, bottom, right, top, in points."""

    def read(plan: Plan) -> list[list[tuple[str, Box]]]:
        with closing(pdfium.PdfDocument(write(plan))) as document:
            return [_letters(page.get_textpage()) for page in document]

    return read


def _letters(page: pdfium.PdfTextPage) -> list[tuple[str, Box]]:
    found = ((page.get_text_range(place, 1), page.get_charbox(place)) for place in range(page.count_chars()))
    return [(letter, box) for letter, box in found if letter.strip()]


@pytest.fixture
def without_extra(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Take the large faces away, as if their package were not installed."""
    caches = (type_case.faces, type_case._face_of, type_case.clean, type_case._em_width)  # noqa: SLF001
    monkeypatch.setattr(type_case, "find_spec", lambda _: None)
    for cache in caches:
        cache.cache_clear()
    yield
    monkeypatch.undo()
    for cache in caches:
        cache.cache_clear()
