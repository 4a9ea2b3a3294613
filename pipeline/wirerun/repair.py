"""The story of a repair: the block of one row planned, the row and the place found in it, and what to do there."""

from typing import NamedTuple

import numpy as np

from wirerun.errors import Fault, Faults, InputError, SettingError
from wirerun.findings import Findings
from wirerun.measured import measured_of
from wirerun.model.block import PlannedBlock
from wirerun.model.repair import Repair
from wirerun.one_block import plan_one
from wirerun.progress import Progress
from wirerun.read.inputs import read_inputs, read_shared
from wirerun.records import Inputs
from wirerun.rules.from_catalogue import driven_as_asked, take_from_catalogue
from wirerun.rules.row_names import named_place, named_row, nearest
from wirerun.settings import Catalogue, Config, WireSettings
from wirerun.stages.wires.mend import Asked, mend


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
        meant = named_row(question.row, shared.block_ids)
        if isinstance(meant, str):
            raise InputError((Fault(config.file, f"row {question.row}", meant),))
        block_id, number = meant
        inputs = read_inputs(config, shared, block_id)
    taken = measured_of(config, shared, progress)
    config, catalogue = taken.config, driven_as_asked(taken.catalogue, taken.config)
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
        near = nearest(str(question.wire), [wire.id for wire in wires])
        faults.add(config.file, f"wire {question.wire}", f"there is no such wire{near}; there are {ids}")
    elif question.wire is None and len(which) > 1 and (question.at is not None or question.gauge_n is not None):
        what = "broke" if question.at is not None else "was read"
        faults.add(config.file, f"row {number}", f"say which wire {what} with --wire: {ids}")
    if number not in rows:
        whole = f"there are {len(rows)}, {rows[0]} to {rows[-1]}"
        faults.add(config.file, f"row {number}", f"there is no such row{nearest(number, rows)}; {whole}")
        faults.stop_if_any()
    row = rows.index(number)
    if question.at is not None and question.gauge_n is not None:
        faults.add(config.file, f"--reads {question.gauge_n:g}", "a broken wire reads nothing")
    place: tuple[int | None, int | None] = (None, None)
    if question.at is not None:
        meant = named_place(question.at, number, int(np.count_nonzero(planned.posts.row == row)))
        if isinstance(meant, str):
            faults.add(config.file, f"--at {question.at}", meant)
        else:
            place = (meant.number, None) if meant.is_post else (None, meant.number)
    faults.stop_if_any()
    return row, which, place
