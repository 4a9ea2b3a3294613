"""One block's fault costs no other block: what is left is planned whole, and everything says what is missing."""

import itertools
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest
from pandas.testing import assert_frame_equal
from pypdf import PdfReader
from wirerun import one_block, plan_config, take_off
from wirerun.errors import Exit, InputError
from wirerun.findings import CODES
from wirerun.read.inputs import read_inputs

if TYPE_CHECKING:
    from tests.conftest import Estate

# Two blocks beside each other, lopsided; B02 lies east of B01.
LEFT = [(-70.0, -14.0), (-8.0, -17.0), (-5.0, 15.0), (-66.0, 18.0)]
RIGHT = [(6.0, -15.0), (58.0, -12.0), (55.0, 21.0), (8.0, 17.0)]
FAR = [(300.0, -15.0), (350.0, -12.0), (345.0, 16.0), (302.0, 14.0)]
SLIVER = [(6.0, -15.0), (54.0, -15.5), (54.0, -15.0)]
CROSSED = [(6.0, -15.0), (58.0, 21.0), (58.0, -12.0), (6.0, 17.0)]


def fail(monkeypatch: pytest.MonkeyPatch, stage: str, error: BaseException, *block_ids: str) -> None:
    """Let a stage of the run fail in the blocks named."""
    real = getattr(one_block, stage)

    def failing(*given: Any, **more: Any) -> Any:  # noqa: ANN401 - whatever the stage takes
        if any(f"'{block_id}" in repr(given[0]) or f" {block_id}" in str(given[0]) for block_id in block_ids):
            raise error
        return real(*given, **more)

    monkeypatch.setattr(one_block, stage, failing)


def fail_at_second_zones(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """Let the zones of the second of two blocks fail: where they are drawn no block has a name."""
    real, calls = getattr(take_off, "place_zones"), itertools.count()  # noqa: B009 - not its own

    def failing(*given: Any) -> Any:  # noqa: ANN401 - whatever the stage takes
        if next(calls) % 3 == 1:  # both blocks, then the first alone
            raise error
        return real(*given)

    monkeypatch.setattr(take_off, "place_zones", failing)


def test_a_block_off_the_raster_costs_itself_alone(
    make_estate: Callable[..., "Estate"], inside: Callable[[str], dict[str, Any]]
) -> None:
    both = make_estate(B01=LEFT, B02=FAR)
    done = both.command("plan")
    assert done.exit_code == Exit.ELEVATION
    (told,) = re.findall(r"^error: (.*)$", done.stderr, re.MULTILINE)
    assert told.startswith("block B02 is not planned: ground.tif: the block lies off the raster: it spans longitude")
    assert "1  block, 0.20 ha; 1 more is NOT in this plan" in done.stderr
    # The record, the findings, the map and the cards say the same.
    (missing,) = both.record["missing"]
    assert (missing["block_id"], missing["exit_code"]) == ("B02", 4)
    assert told == f"block B02 is not planned: {missing['reason']}"
    assert both.record["counts"]["blocks"] == 1
    out = both.folder / "out"
    findings = pd.read_csv(out / "schedule" / "findings.csv", encoding="utf-8-sig")
    first = findings.iloc[0]
    assert (first["level"], first["code"], first["place"]) == ("error", "block-missing", "B02")
    assert first["message"] == f"Not planned: {missing['reason']}"
    page = (out / "map.html").read_text()
    assert inside(page)["missing"] == [{"id": "B02", "reason": missing["reason"]}]
    cover = PdfReader(out / "cards" / "field_cards.pdf").pages[0].extract_text()
    assert "Block B02 is not planned: ground.tif: the block lies off the raster" in " ".join(cover.split())


def test_what_is_left_is_what_it_would_be_alone(make_estate: Callable[..., "Estate"]) -> None:
    whole = plan_config(make_estate(B01=LEFT, B02=FAR, B03=CROSSED, B04=SLIVER).config())
    alone = plan_config(make_estate(B01=LEFT).config())
    # As they are found: in the file, then on the ground.
    assert [block.block_id for block in whole.missing] == ["B03", "B04", "B02"]
    assert "its area is 12 m2, below the least of 100 m2" in whole.missing[1].reason
    for name in ("blocks", "rows", "posts", "clips", "wires", "coils", "materials", "zones", "programme", "costs"):
        assert_frame_equal(getattr(whole, name), getattr(alone, name))
    assert len(whole.grids) == len(whole.frames) == 1
    assert set(whole.findings["code"]) - set(alone.findings["code"]) == {"block-missing"}
    assert CODES["block-missing"][0] == "error"


def test_a_broken_outline_costs_its_own_block(make_estate: Callable[..., "Estate"]) -> None:
    both = make_estate(B01=LEFT, B02=CROSSED)
    done = both.command("plan", "--only", "schedule", "--quiet")
    assert done.exit_code == Exit.BAD_INPUT
    assert "error: block B02 is not planned: block.geojson, feature 2 (B02): the edge crosses itself at" in done.stderr
    assert both.record["missing"][0]["exit_code"] == Exit.BAD_INPUT
    done = both.command("check")
    assert done.exit_code == Exit.BAD_INPUT
    assert "the edge crosses itself" in done.stderr
    assert "1 block, the elevation there and the config are in order." in done.stderr
    assert "1 block is not; a plan leaves out what is not in order." in done.stderr


def test_too_little_cover_costs_its_own_block(make_estate: Callable[..., "Estate"]) -> None:
    half = [(x + 70.0, y) for x, y in RIGHT]
    (block,) = plan_config(make_estate(B01=LEFT, B02=half).config()).missing
    assert block.exit_code == Exit.ELEVATION
    assert re.fullmatch(
        r"ground\.tif: only \d+\.\d % of the block has heights; .* \(least cover 95 %\); of a survey .*", block.reason
    ), block.reason


def test_a_setting_that_does_not_work_costs_its_own_block(make_estate: Callable[..., "Estate"]) -> None:
    both = make_estate(B01=LEFT, B02=RIGHT)
    towards = '[blocks.B02.rows]\nfirst_row = "east"\n'
    done = both.command("plan", "--only", "schedule", more=towards)
    assert done.exit_code == Exit.BAD_INPUT
    assert 'error: block B02 is not planned: estate.toml, rows.first_row = "east": square to the rows' in done.stderr
    assert set(pd.read_csv(both.folder / "out" / "schedule" / "rows.csv", encoding="utf-8-sig")["block_id"]) == {"B01"}


@pytest.mark.parametrize("stage", ["set_out", "string_wires", "place_zones"])
def test_whatever_goes_wrong_in_a_block_costs_that_block(
    make_estate: Callable[..., "Estate"], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, stage: str
) -> None:
    """In a stage of its own, or where zones are drawn after all blocks were taken off together."""
    both = make_estate(B01=LEFT, B02=RIGHT)
    alone = plan_config(make_estate(B01=LEFT).config())
    error = ZeroDivisionError("it was\x1b[2J nought")
    if stage == "place_zones":
        fail_at_second_zones(monkeypatch, error)
    else:
        fail(monkeypatch, stage, error, "B02")
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    made = plan_config(both.config())
    for name in ("rows", "wires", "coils", "materials", "zones", "programme", "costs"):
        assert_frame_equal(getattr(made, name), getattr(alone, name))
    done = both.command("plan", "--only", "schedule")
    assert done.exit_code == Exit.OUR_FAULT
    said = "estate.toml: a fault of wirerun's own stopped the work (ZeroDivisionError: it was\\x1b[2J nought)"
    assert f"error: block B02 is not planned: {said}" in done.stderr
    assert "Traceback" not in done.stderr
    assert both.record["missing"] == [{"block_id": "B02", "reason": said, "exit_code": 1}]
    (kept,) = tmp_path.glob("wirerun-fault-*.txt")
    assert str(kept) in done.stderr.replace("\n", "")
    text = kept.read_text()
    assert "block B02\nTraceback (most recent call last):" in text
    assert "ZeroDivisionError" in text


def test_a_block_that_needs_too_much_memory(
    make_estate: Callable[..., "Estate"], monkeypatch: pytest.MonkeyPatch
) -> None:
    fail(monkeypatch, "set_out", MemoryError(), "B02")
    (block,) = plan_config(make_estate(B01=LEFT, B02=RIGHT).config()).missing
    assert block.reason.startswith("config: the work needs more memory than there is")
    assert (block.exit_code, block.traceback) == (Exit.OUR_FAULT, "")


def test_the_worst_fault_decides(make_estate: Callable[..., "Estate"], monkeypatch: pytest.MonkeyPatch) -> None:
    """Ours before bad input before missing elevation, and each before what `--strict` makes of findings."""
    three = make_estate(B01=LEFT, B02=FAR, B03=CROSSED)
    assert three.command("plan", "--only", "schedule", "--strict").exit_code == Exit.BAD_INPUT
    assert make_estate(B01=LEFT, B02=FAR).command("plan", "--only", "schedule", "--strict").exit_code == Exit.ELEVATION
    four = make_estate(B01=LEFT, B02=FAR, B03=CROSSED, B04=RIGHT)
    fail(monkeypatch, "set_out", ValueError("odd"), "B04")
    assert four.command("plan", "--only", "schedule").exit_code == Exit.OUR_FAULT
    assert {block["block_id"] for block in four.record["missing"]} == {"B02", "B03", "B04"}


def test_where_no_block_is_left_nothing_is_written(
    make_estate: Callable[..., "Estate"], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    none = make_estate(B01=CROSSED, B02=FAR)
    done = none.command("plan", "--only", "schedule")
    assert done.exit_code == Exit.BAD_INPUT
    assert "error: block.geojson, feature 1 (B01): the edge crosses itself" in done.stderr
    assert "2 faults; nothing was written." in done.stderr
    both = make_estate(B01=LEFT, B02=RIGHT)
    fail(monkeypatch, "set_out", ValueError("odd"), "B01", "B02")
    done = both.command("plan", "--only", "schedule")
    assert done.exit_code == Exit.OUR_FAULT
    assert "estate.toml, block B01: a fault of wirerun's own stopped the work (ValueError: odd)" in done.stderr
    assert "estate.toml, block B02: a fault of wirerun's own" in done.stderr
    (kept,) = tmp_path.glob("wirerun-fault-*.txt")
    assert "ValueError: odd" in kept.read_text()
    assert not (none.folder / "out").exists()
    assert not (both.folder / "out").exists()


def test_two_blocks_that_share_ground_or_a_name_cost_both_and_no_other(make_estate: Callable[..., "Estate"]) -> None:
    """Nobody can tell which of the two is wrong."""
    moved = make_estate(B01=RIGHT, B02=[(x + 3.0, y) for x, y in RIGHT], B03=LEFT)
    made = plan_config(moved.config())
    assert [block.block_id for block in made.missing] == ["B01", "B02"]
    assert "overlaps feature 2" in made.missing[0].reason
    assert "overlaps feature 1" in made.missing[1].reason
    assert made.blocks["block_id"].tolist() == ["B03"]
    halves = [[(6.0, -15.0), (30.0, -14.0), (30.0, 19.0), (8.0, 17.0)], [(34.0, -13.0), (58.0, -12.0), (55.0, 21.0)]]
    named = make_estate(B01=LEFT, B02=halves[0], B03=halves[1])
    boundary = named.folder / "block.geojson"
    boundary.write_text(boundary.read_text().replace('"B02"', '"B03"'))
    made = plan_config(named.config())
    assert [block.block_id for block in made.missing] == ["B03"]
    assert "as feature 2 has" in made.missing[0].reason
    assert made.blocks["block_id"].tolist() == ["B01"]


def test_what_cannot_be_laid_at_one_blocks_door_still_costs_all(make_estate: Callable[..., "Estate"]) -> None:
    """An exclusion that is broken: nobody can tell which block is meant."""
    odd = make_estate(B01=LEFT, B02=RIGHT)
    crossed = make_estate(K=CROSSED)
    (odd.folder / "keep_out.geojson").write_text((crossed.folder / "block.geojson").read_text())
    with pytest.raises(InputError, match=r"keep_out\.geojson, feature 1: the edge crosses itself"):
        read_inputs(odd.config(block={"exclusions": "keep_out.geojson"}))


def test_a_block_that_is_missing_may_have_settings_of_its_own(make_estate: Callable[..., "Estate"]) -> None:
    """It stands in the boundary, so its table in the config is no mistake."""
    own = make_estate(B01=LEFT, B02=CROSSED).config(blocks={"B02": {"rows": {"spacing_m": 3.0}}})
    assert [block.block_id for block in plan_config(own).missing] == ["B02"]
