"""The printed map: which plan it is of stands on every page; and a page that starts in the units of the config."""

from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
import pytest
from wirerun.records import Plan
from wirerun.terms import WORDS
from wirerun.write.html_map import write_map
from wirerun.write.mark import plan_mark

DATE = 'plan "of" 2026-11-29 \\ é'


@pytest.fixture(scope="module")
def dated_map(estate: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the sample estate's map, dated, in feet and pounds."""
    output = estate.config.output.model_copy(update={"date": DATE, "units": "imperial"})
    path = tmp_path_factory.mktemp("dated") / "map.html"
    write_map(replace(estate, config=estate.config.model_copy(update={"output": output})), path)
    return path


def pages_of(pdf: bytes) -> list[str]:
    """Return the text of each page, on one line."""
    with closing(pdfium.PdfDocument(pdf)) as document:
        return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def test_every_page_says_of_which_plan_it_is(estate: Plan, dated_map: Path, open_map: Any) -> None:  # noqa: ANN401
    sheet = open_map(dated_map, f"#{estate.rows['row_id'].iloc[30]}")
    pages = pages_of(sheet.page.pdf(prefer_css_page_size=True))
    assert len(pages) > 1
    mark = f"Plan {plan_mark(estate)} \N{MIDDLE DOT} encosta-nova \N{MIDDLE DOT} blocks B01, B02 \N{MIDDLE DOT} {DATE}"
    for page in pages:
        assert mark in page
    # In the head and with what was chosen too, for browsers that know no foot.
    assert pages[0].count(mark) == 2
    assert not sheet.page.is_visible("header .plan-mark")
    assert sheet.trouble() == []


def test_without_a_date_none_is_made_up(estate: Plan, estate_map: Path, open_map: Any) -> None:  # noqa: ANN401
    sheet = open_map(estate_map)
    (page,) = pages_of(sheet.page.pdf(prefer_css_page_size=True))
    assert f"Plan {plan_mark(estate)} \N{MIDDLE DOT} encosta-nova \N{MIDDLE DOT} blocks B01, B02" in page
    assert "B02 \N{MIDDLE DOT}" not in page


def test_an_american_map_has_no_word_of_the_others(estate: Plan, tmp_path: Path, open_map: Any) -> None:  # noqa: ANN401
    """Legend, notes of the states, cards of a row, a post and a zone."""
    output = estate.config.output.model_copy(update={"terms": "us"})
    path = tmp_path / "map.html"
    american = replace(estate, config=estate.config.model_copy(update={"output": output}))
    # What was found was said when the plan was made.
    write_map(replace(american, findings=estate.findings.iloc[:0]), path)
    sheet = open_map(path)
    said = ""
    for view in ("cold", "dropped", "planned"):
        sheet.show(view)
        said += sheet.page.inner_text("#panel")
    posts = estate.posts.merge(estate.rows[["row_id", "zone_id"]], on="row_id")
    each = posts.groupby("clip_need")["post_id"].first()
    for name in (*posts.loc[5, ["row_id", "zone_id"]], *each):
        sheet.find(str(name))
        said += sheet.page.inner_text("#sheet")
    said = " ".join(said.lower().split())
    for words in WORDS["us"].items():
        assert words[0] not in said, words
    for word in ("line post", "catch wire", "labor"):
        assert word in said
    assert sheet.trouble() == []


def test_the_page_starts_in_the_units_of_the_config(dated_map: Path, estate_map: Path, open_map: Any) -> None:  # noqa: ANN401
    feet, metric = open_map(dated_map), open_map(estate_map)
    assert feet.page.is_checked("[name=units][value=imperial]")
    assert metric.page.is_checked("[name=units][value=metric]")
    assert "ft" in feet.page.inner_text(".leaflet-control-scale-line")
    assert feet.facts("#totals")["Area"].endswith("ac")
    assert metric.facts("#totals")["Area"].endswith("ha")
    assert "\N{DEGREE SIGN}F" in feet.page.inner_text("#views")
    # Back to metres, all says what it says where it starts in them: what is reckoned by area as well.
    assert "EUR/ac" in feet.page.inner_html("#fixing-list")
    feet.page.check("[name=units][value=metric]")
    assert feet.facts("#totals") == metric.facts("#totals")
    assert feet.page.inner_html("#fixing-list") == metric.page.inner_html("#fixing-list")
    assert feet.trouble() == metric.trouble() == []
