"""The story of what was measured: placed in the rows that it was measured in, and taken in the place of assumptions."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wirerun.errors import Faults, InputError, SettingError
from wirerun.findings import Finding, Findings
from wirerun.measurements import Learned, Measured
from wirerun.model.stood import Spot, Stood
from wirerun.progress import Progress
from wirerun.read.inputs import Shared, read_inputs
from wirerun.records import Block, Drawn, Grid
from wirerun.rules.apply_measured import with_measured
from wirerun.rules.from_catalogue import driven_as_asked, take_from_catalogue
from wirerun.rules.learn_from_tests import learn_from_clip_tests, learn_from_minutes, learn_from_pull_outs
from wirerun.rules.row_names import named_place, named_row, nearest
from wirerun.settings import Catalogue, Config
from wirerun.stages.layout.boundary import set_out
from wirerun.stages.layout.ground import ground_above_chord
from wirerun.stages.layout.lay_out import lay_rows, stand_posts
from wirerun.stages.wires.learn_freed import learn_from_freed
from wirerun.stages.wires.learn_tensions import learn_from_tensions
from wirerun.stages.wires.strung import string_wires

#: Reads what is needed to lay a block out; None where it cannot be planned.
ReadBlock = Callable[[str], tuple[Block, Grid, Drawn] | None]


@dataclass(frozen=True, slots=True)
class Taken:
    """A config and a catalogue with what was measured in them, and what that was."""

    config: Config
    catalogue: Catalogue
    learned: tuple[Learned, ...]

    @property
    def findings(self) -> list[Finding]:
        """Return what a person should know of it."""
        return [finding_of(one) for one in self.learned]


def finding_of(one: Learned) -> Finding:
    """Return what a person should know of a measurement."""
    code = "measured-off" if one.off else "measured" if one.taken else "measured-unsure"
    return Finding(code, one.place, one.sentence)


def take_measured(
    config: Config, catalogue: Catalogue, measured: Measured, blocks: Sequence[str], read: ReadBlock, progress: Progress
) -> Taken:
    """Take what was measured: tests first, then what was read along rows, which are laid out for it.

    Parameters
    ----------
    config : Config
        As written.
    catalogue : Catalogue
        As read, fixings driven as the config asks.
    measured : Measured
        The rows of the files.
    blocks : sequence of str
        Ids of all blocks.
    read : callable
        Reads a block that something was measured in.
    progress : Progress
        Hears of it.

    Raises
    ------
    InputError
        With every fault of the files: rows, wires, places, items, tasks that there are not, readings that cannot be.
    """
    faults = Faults()
    with progress.stage("measured"):
        learned = _tests(config, catalogue, measured, faults)
        faults.stop_if_any()
        config, catalogue = with_measured(config, catalogue, learned)
        along = _along_rows(config, catalogue, measured, blocks, read, faults)
        faults.stop_if_any()
        config, catalogue = with_measured(config, catalogue, along)
        learned += along
        if config.measured.built_posts is not None:
            learned.append(_built(config.measured.built_posts))
    return Taken(config, catalogue, tuple(learned))


def measured_of(config: Config, shared: Shared, progress: Progress) -> Taken:
    """Take what was measured in any block of an estate, reading only the blocks that it was measured along rows in.

    Parameters
    ----------
    config : Config
        As written.
    shared : Shared
        What was read for all blocks.
    progress : Progress
        Hears of it.
    """
    catalogue = driven_as_asked(shared.catalogue, config)
    if not shared.measured:
        return Taken(config, shared.catalogue, ())

    def read(block_id: str) -> tuple[Block, Grid, Drawn] | None:
        try:
            inputs = read_inputs(config, shared, block_id)
        except InputError:
            return None  # told of when the block is planned
        return (inputs.blocks[0], inputs.grids[0], inputs.drawn[0]) if inputs.blocks else None

    return take_measured(config, catalogue, shared.measured, shared.block_ids, read, progress)


def _built(given: str) -> Learned:
    sentence = (
        f"Posts stand where they were surveyed ({given}), with these heights; `wirerun compare` with an earlier plan "
        "says how far that is from where they were planned."
    )
    return Learned("built posts", "posts.points", "", None, None, None, 0, taken=True, sentence=sentence)


def _tests(config: Config, catalogue: Catalogue, measured: Measured, faults: Faults) -> list[Learned]:
    files, learned = measured.files, list[Learned]()
    if measured.clip_tests:
        learned += learn_from_clip_tests(measured.clip_tests, config, catalogue, files["clip_tests"], faults)
    if measured.pull_out_tests:
        learned += learn_from_pull_outs(measured.pull_out_tests, config, catalogue, files["pull_out_tests"], faults)
    if measured.minutes:
        learned += learn_from_minutes(measured.minutes, config, catalogue, files["minutes"], faults)
    return learned


def _along_rows(
    config: Config, catalogue: Catalogue, measured: Measured, blocks: Sequence[str], read: ReadBlock, faults: Faults
) -> list[Learned]:
    """What was read along rows, in all blocks that it was read in."""
    place = _Placing(config, catalogue, list(blocks), read, faults, {}, [])
    tensions = place.all(measured.files.get("tensions", ""), measured.tensions, at_post=False)
    freed = place.all(measured.files.get("freed_heights", ""), measured.freed_heights, at_post=True)
    if faults:
        return []
    learned: list[Learned] = []
    if tensions:
        given = measured.files["tensions"]
        learned += learn_from_tensions(place.stood, tensions, config.measured, given, faults)
    if freed and not faults:
        # How the ends give changes how a freed wire lies.
        as_learned = [replace(one, config=with_measured(one.config, catalogue, learned)[0]) for one in place.stood]
        learned += learn_from_freed(as_learned, freed, config.measured)
    return learned


@dataclass(slots=True)
class _Placing:
    """Places readings in their rows; a block is laid out when the first reading of it comes."""

    config: Config
    catalogue: Catalogue
    blocks: list[str]
    read: ReadBlock
    faults: Faults
    found: dict[str, int | None]
    stood: list[Stood]

    def all(self, given: str, rows: Iterable[tuple[int, Any]], *, at_post: bool) -> list[tuple[Spot, Any]]:
        """Return the readings of a file with their places; what is nowhere is told."""
        placed = [(self._spot(given, line, one, at_post=at_post), one) for line, one in rows]
        return [(spot, one) for spot, one in placed if spot is not None]

    def _spot(self, given: str, line: int, one: Any, *, at_post: bool) -> Spot | None:  # noqa: ANN401 - a row of a file
        found = self._row(one.row)
        if isinstance(found, str):
            self._fault(given, line, "row", one.row, found)
            return None
        if found is None:
            return None
        block, row = found
        stood = self.stood[block]
        ids = [wire.id for wire in stood.config.wires]
        if one.wire not in ids:
            sentence = f"there is no such wire{nearest(one.wire, ids)}; there are {', '.join(ids)}"
            self._fault(given, line, "wire", one.wire, sentence)
            return None
        posts = int(np.count_nonzero(stood.posts.row == row))
        place = named_place(one.place, str(stood.posts.rows.row_id[row]), posts)
        if not isinstance(place, str) and at_post and not place.is_post:
            place = "a height is read at a post, such as P017"
        if isinstance(place, str):
            self._fault(given, line, "place", one.place, place)
            return None
        # A gauge stands in a span; a post names the one behind it, the last post the one before.
        number = place.number if at_post else min(place.number, posts - 2)
        return Spot(line, block, row, ids.index(one.wire), number)

    def _row(self, called: str) -> tuple[int, int] | str | None:
        """Return places of block and row; a sentence where there is no such row, None where its block has no plan."""
        meant = named_row(called, self.blocks)
        if isinstance(meant, str):
            return meant
        block = self._stood(meant.block_id)
        if block is None:
            return None
        rows = self.stood[block].posts.rows.row_id.tolist()
        if meant.row_id not in rows:
            there = f"there are {len(rows)} rows, {rows[0]} to {rows[-1]}"
            return f"there is no such row{nearest(meant.row_id, rows)}; {there}"
        return block, rows.index(meant.row_id)

    def _fault(self, given: str, line: int, column: str, value: str, sentence: str) -> None:
        self.faults.add(given, f"line {line}, {column}", f'"{value}": {sentence}')

    def _stood(self, block_id: str) -> int | None:
        """Place of the block among those laid out; None where it cannot be."""
        if block_id not in self.found:
            made = self._laid_out(block_id)
            self.found[block_id] = None if made is None else len(self.stood)
            self.stood += [] if made is None else [made]
        return self.found[block_id]

    def _laid_out(self, block_id: str) -> Stood | None:
        inputs = self.read(block_id)
        if inputs is None:
            return None
        block, grid, drawn = inputs
        notes = Findings(block_id)
        try:
            config = take_from_catalogue(self.config.for_block(block_id), self.catalogue)
            site = set_out(block, grid, config.elevation.smoothing_m, notes)
            named = lay_rows(site, drawn, block_id, config, notes)
            layout = stand_posts(named.rows, site, drawn, config, self.catalogue, notes)
            if layout.posts is None or layout.ground is None:
                return None
            above = ground_above_chord(layout.posts, layout.ground, config.posts.max_span_m)
            strung, _ = string_wires(layout.posts, above, config.wires, config.posts.least_clearance_m, notes)
        except SettingError:
            return None  # told of when the block is planned
        return Stood(config, layout.posts, above, strung)
