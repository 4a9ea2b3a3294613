"""End assemblies: the cheapest that is for rows so long and for such a pull."""

from collections.abc import Callable

import numpy as np
import pytest
from wirerun.findings import Findings
from wirerun.model.layout import Posts
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import EndItem
from wirerun.stages.wires.end_assemblies import choose_ends


def end(name: str, row_m: float | None, pull_n: float | None, price: float | None, minutes: float = 0.0) -> EndItem:
    kind = {"kind": "anchored", "source": "made up in this test", "date": "2026-01-02"}
    sizes = {"most_row_m": row_m, "most_pull_n": pull_n, "price": price, "minutes": minutes}
    return EndItem.model_validate({"id": name, **kind, **sizes})


SINGLE, ANCHORED, BRACED = (
    end("single", 20.0, 2000.0, 0.0),
    end("anchored", 40.0, 6000.0, 10.0),
    end("braced", None, None, 30.0),
)


def chosen(
    posts: Posts, pull_n: list[float], *ends: EndItem, hour: float | None = None
) -> tuple[list[str | None], Findings]:
    notes, pulls = Findings("B01"), np.full(len(posts), np.nan)
    pulls[posts.is_end] = pull_n
    made = choose_ends(posts, pulls, Catalogue(ends=ends), WorkSettings(labour_per_hour=hour), notes)
    assert (made[~posts.is_end] == None).all()  # noqa: E711 - element by element
    return list(made[posts.is_end]), notes


def test_row_length_and_pull_decide(stand: Callable[..., Posts]) -> None:
    """Rows of 18, 36 and 48 m, spans of 6 m; the far end of the first row pulls harder than a single post is for."""
    posts = stand([0.0] * 4, [0.0] * 7, [0.0] * 9)
    names, notes = chosen(posts, [1999.0, 2001.0, 500.0, 6001.0, 10.0, 10.0], SINGLE, ANCHORED, BRACED)
    assert names == ["single", "anchored", "anchored", "braced", "braced", "braced"]
    assert notes == []


def test_labour_counts_and_what_has_no_price_comes_last(stand: Callable[..., Posts]) -> None:
    slow, unpriced = end("slow", None, None, 1.0, minutes=60.0), end("unpriced", None, None, None)
    posts = stand([0.0] * 3)
    for hour, name in ((None, "slow"), (8.95, "slow"), (9.05, "quick")):
        assert chosen(posts, [1.0, 1.0], unpriced, slow, end("quick", None, None, 10.0), hour=hour)[0] == [name] * 2
    assert chosen(posts, [1.0, 1.0], unpriced)[0] == ["unpriced", "unpriced"]


def test_what_none_is_for_is_told(stand: Callable[..., Posts]) -> None:
    names, (note,) = chosen(stand([0.0] * 9), [2500.0, 10.0], SINGLE)
    assert names == [None, None]
    assert note.code == "no-end"
    assert "2 end posts, pulled by up to 2500 N" in note.message


@pytest.mark.parametrize("spans", [3, 9])
def test_a_catalogue_without_ends_chooses_none_and_says_nothing(stand: Callable[..., Posts], spans: int) -> None:
    names, notes = chosen(stand([0.0] * (spans + 1)), [1.0, 1.0])
    assert names == [None, None]
    assert notes == []
