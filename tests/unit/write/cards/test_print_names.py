"""Blocks whose id the cards cannot print: what they are called instead, everywhere, and what a person is told."""

from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path

import pandas as pd
import pypdf
import pytest
from wirerun.records import Plan
from wirerun.settings import BlockOverride
from wirerun.write.cards.letters import MISSING
from wirerun.write.cards.print_names import as_printed, not_printed, print_names

ARABIC = "حقل"


def called(plan: Plan, name: str) -> Plan:
    """Return a plan whose block B01 has another id, in every table."""
    changed = {
        field.name: table.apply(lambda column: column.replace(r"^B01(?=-|$)", name, regex=True))
        for field in fields(plan)
        if isinstance(table := getattr(plan, field.name), pd.DataFrame)
    }
    frames = tuple(replace(note, block_id=name) for note in plan.frames)
    return replace(plan, frames=frames, **changed)


def test_a_block_is_called_by_its_number_unless_another_has_that_name() -> None:
    assert print_names(["B01", "Norte", "北坡"]) == {}
    assert print_names(["Norte", ARABIC, "खेत"]) == {ARABIC: "B02", "खेत": "B03"}
    assert print_names(["B02", ARABIC, "B03"]) == {ARABIC: "B04"}


def test_a_person_is_told_which_block_is_called_what() -> None:
    assert not_printed(["B01", "北坡"]) == []
    (finding,) = not_printed(["Norte", ARABIC])
    assert (finding.code, finding.level, finding.place) == ("block-not-printed", "note", ARABIC)
    assert finding.message == "The field cards cannot print this id; they call the block B02."


def test_a_plan_that_can_be_printed_is_left_alone(plan: Plan) -> None:
    assert as_printed(plan) is plan


@pytest.mark.parametrize(("name", "shown"), [(ARABIC, "B01"), ("北坡", "北坡")])
def test_every_id_on_the_cards_has_the_name_that_prints(
    plan: Plan, texts: Callable[[Plan], list[str]], name: str, shown: str
) -> None:
    sheets = texts(called(plan, name))
    assert [sheet.replace(shown, "B01") for sheet in sheets] == texts(plan)
    assert f"{shown}-R001" in sheets[2]
    assert MISSING not in "".join(sheets)


def test_the_outline_has_it_too(plan: Plan, write: Callable[[Plan], Path]) -> None:
    outline = pypdf.PdfReader(write(called(plan, ARABIC))).outline
    assert "B01-R002" in str(outline)
    assert ARABIC not in str(outline)


def test_only_the_whole_id_is_replaced_and_in_all_that_hangs_on_it(plan: Plan) -> None:
    named = called(plan, ARABIC)
    # Another block's id may start with the same letters.
    other = named.rows.assign(zone_id=f"{ARABIC}2-Z01")
    printed = as_printed(replace(named, rows=other))
    assert set(printed.rows["zone_id"]) == {f"{ARABIC}2-Z01"}
    assert printed.rows["row_id"].tolist() == plan.rows["row_id"].tolist()
    assert [note.block_id for note in printed.frames] == [note.block_id for note in plan.frames]


def test_a_block_keeps_its_own_settings_under_its_other_name(plan: Plan) -> None:
    own = {ARABIC: BlockOverride.model_validate({"wires": {"lower": {"tension_n": 432.0}}})}
    named = called(replace(plan, config=plan.config.model_copy(update={"blocks": own})), ARABIC)
    tensions = {wire.id: wire.tension_n for wire in as_printed(named).config.for_block("B01").wires}
    assert tensions["lower"] == 432.0
