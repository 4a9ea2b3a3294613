"""The story of a repair: the block of one row planned, the row and the place found in it, and what to do there."""

import re
from difflib import get_close_matches
from typing import Final, NamedTuple

import numpy as np

from wirerun.errors import Fault, Faults, InputError, SettingError
from wirerun.findings import Findings, name_some
from wirerun.model.block import PlannedBlock
from wirerun.model.repair import Repair
from wirerun.one_block import plan_one
from wirerun.progress import Progress
from wirerun.read.inputs import read_inputs, read_shared
from wirerun.records import Inputs
from wirerun.rules.from_catalogue import driven_as_asked, take_from_catalogue
from wirerun.settings import Catalogue, Config, WireSettings
from wirerun.stages.wires.mend import Asked, mend

_ROW: Final = re.compile(r"(?:(?P<block>.+)-)?R?0*(?P<number>\d{1,9})(?P<piece>[b-z]\d*)?", re.IGNORECASE | re.ASCII)
_PLACE: Final = re.compile(r"(?:.+-)?(?P<what>[PS])0*(?P<number>\d{1,6})", re.IGNORECASE | re.ASCII)
# Wires that are listed in a sentence.
_MOST_NAMED: Final = 20


class Question(NamedTuple):
    """What a person asks: the row as they call it; the wire, None for all; where it broke, None where it is whole.

    `celsius` is the wire's temperature, None for that of stringing; `missing_m` is wire that is missing or spoilt;
    `gauge_n` what the gauge reads now, or None.
    """

    row: str
    wire: str | None = None
    at: str | None = None
    celsius: float | None = None
    missing_m: float = 0.0
    gauge_n: float | None = None


def repair_row(config: Config, question: Question, progress: Progress) -> list[Repair]:
    """What to cut, join and set on the wires of one row, from the lowest up; only its block is planned.

    Parameters
    ----------
    config : Config
        As `load_config` returns it.
    question : Question
        What is asked.
    progress : Progress
        Hears of each stage.

    Raises
    ------
    InputError
        With every fault of the files, and where row, wire or place are none of the plan's; names the nearest.
    """
    with progress.stage("read"):
        shared = read_shared(config)
        block_id, number = _block_of(config, question.row, shared.block_ids)
        inputs = read_inputs(config, shared, block_id)
    catalogue = driven_as_asked(inputs.catalogue, config)
    planned = _planned(config, catalogue, inputs, progress)
    with progress.stage("mending"):
        row, wires, place = _found(config, question, number, planned)
        celsius = planned.config.states.stringing_c if question.celsius is None else question.celsius
        done = [
            mend(planned, catalogue, Asked(wire, row, celsius, *place, question.missing_m, question.gauge_n))
            for wire in wires
        ]
    mended = [one for one in done if one is not None]
    for one in mended:
        _check_reading(config, one, planned.config.wires)
    if not mended:
        sentence = f"the wire hangs loose there at {celsius:g} C and cannot be set; choose a colder hour"
        raise InputError((Fault(config.file, f"row {number}", sentence),))
    return mended


def _check_reading(config: Config, one: Repair, wires: tuple[WireSettings, ...]) -> None:
    """Refuse a reading that no whole wire can give."""
    breaks_n = next(wire.strength_n for wire in wires if wire.id == one.wire_id)
    if one.read is not None and one.read.tension_n > breaks_n:
        sentence = (
            f"that would be {one.read.tension_n:.0f} N in the wire, which breaks at {breaks_n:.0f} N; is it the gauge "
            "of check.gauge_base_m and check.gauge_push_mm?"
        )
        raise InputError((Fault(config.file, f"--reads {one.read.gauge_n:g}", sentence),))


def _block_of(config: Config, called: str, known: list[str]) -> tuple[str, str]:
    """Block and id of a row as somebody calls it: B01-R012, r12, 12b.

    Raises
    ------
    InputError
        If that is no row, or may be one of several blocks.
    """
    said = _ROW.fullmatch(called.strip())
    if said is None:
        raise _fault(config, called, f"this is no row; wanted is one such as {known[0]}-R012, or its number")
    name = f"R{int(said['number']):03d}{(said['piece'] or '').lower()}"
    if said["block"] is None:
        if len(known) > 1:
            ways = name_some((f"{block}-{name}" for block in known), 3)
            raise _fault(config, called, f"there are {len(known)} blocks; which row is meant? {ways}")
        return known[0], f"{known[0]}-{name}"
    named = [block for block in known if block.lower() == said["block"].lower()]
    if not named:
        raise _fault(config, called, f"there is no block {said['block']}; there are {name_some(known, _MOST_NAMED)}")
    return named[0], f"{named[0]}-{name}"


def _planned(config: Config, catalogue: Catalogue, inputs: Inputs, progress: Progress) -> PlannedBlock:
    """Plan the one block that was read."""
    block, notes = inputs.blocks[0], Findings(inputs.blocks[0].block_id)
    try:
        own = take_from_catalogue(config.for_block(block.block_id), catalogue)
        made = plan_one(block, inputs.grids[0], inputs.drawn[0], own, catalogue, notes, progress)
    except SettingError as error:
        raise InputError((Fault(config.file, error.place, error.message),)) from error
    if made.planned is None:
        raise InputError((Fault(config.file, f"block {block.block_id}", "no row of it can be planned"),))
    return made.planned


def _found(
    config: Config, question: Question, number: str, planned: PlannedBlock
) -> tuple[int, list[int], tuple[int | None, int | None]]:
    """The row, the wires and the place (post or span) that are meant."""
    faults, wires, rows = Faults(), planned.config.wires, planned.posts.rows.row_id.tolist()
    which = [index for index, wire in enumerate(wires) if question.wire in (None, wire.id)]
    which.sort(key=lambda index: wires[index].height_m)
    ids = ", ".join(wire.id for wire in wires)
    if not which:
        near = _nearest(str(question.wire), [wire.id for wire in wires])
        faults.add(config.file, f"wire {question.wire}", f"there is no such wire{near}; there are {ids}")
    elif question.wire is None and len(which) > 1 and (question.at is not None or question.gauge_n is not None):
        what = "broke" if question.at is not None else "was read"
        faults.add(config.file, f"row {number}", f"say which wire {what} with --wire: {ids}")
    if number not in rows:
        whole = f"there are {len(rows)}, {rows[0]} to {rows[-1]}"
        faults.add(config.file, f"row {number}", f"there is no such row{_nearest(number, rows)}; {whole}")
        faults.stop_if_any()
    row = rows.index(number)
    if question.at is not None and question.gauge_n is not None:
        faults.add(config.file, f"--reads {question.gauge_n:g}", "a broken wire reads nothing")
    place = _place(config, question.at, int(np.count_nonzero(planned.posts.row == row)), number, faults)
    faults.stop_if_any()
    return row, which, place


def _place(config: Config, at: str | None, posts: int, row: str, faults: Faults) -> tuple[int | None, int | None]:
    """Number of the post, or of the span, from 0; both None where none is named."""
    if at is None:
        return None, None
    said = _PLACE.fullmatch(at.strip())
    if said is None:
        sentence = "this is no place in the row; wanted is a post such as P017, or a span such as S016 behind post 16"
        faults.add(config.file, f"--at {at}", sentence)
        return None, None
    place, is_post = int(said["number"]) - 1, said["what"].upper() == "P"
    count = posts if is_post else posts - 1
    if not 0 <= place < count:
        letter, thing = ("P", "posts") if is_post else ("S", "spans")
        faults.add(config.file, f"--at {at}", f"row {row} has {count} {thing}, {letter}001 to {letter}{count:03d}")
    return (place, None) if is_post else (None, place)


def _nearest(called: str, known: list[str]) -> str:
    near = get_close_matches(called, known, n=1, cutoff=0.4)
    return f"; did you mean {near[0]}?" if near else ""


def _fault(config: Config, called: str, sentence: str) -> InputError:
    return InputError((Fault(config.file, f"row {called}", sentence),))
