"""Blocks that could not be planned, and why: one block's fault costs no other block."""

import traceback
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import PurePath

from wirerun.errors import Exit, Fault, InputError, SettingError, WirerunError, printable, worst
from wirerun.findings import Finding

_MOST_WORDS = 200  # of what a library says when it fails


@dataclass(frozen=True, slots=True)
class MissingBlock:
    """A block that is not in the plan, and why. `traceback` is Python's own, where the fault is ours."""

    block_id: str
    faults: tuple[Fault, ...]
    traceback: str = ""

    @property
    def reason(self) -> str:
        """Return why, in words that are the same wherever the files lie."""
        return "; ".join(self._words(fault) for fault in self.faults)

    @property
    def exit_code(self) -> Exit:
        """Return whose fault it is."""
        return worst(fault.exit_code for fault in self.faults)

    def _words(self, fault: Fault) -> str:
        where = ", ".join(part for part in (PurePath(fault.file).name, _bare_place(self.block_id, fault)) if part)
        return printable(f"{where}: {fault.message}")


class NothingPlannedError(InputError):
    """No block could be planned; carries the faults of all."""


@dataclass(slots=True)
class Failures:
    """The blocks that failed so far; `file` is the config, which settings that do not work stand in."""

    file: str
    missing: list[MissingBlock] = field(default_factory=list)
    cause: Exception | None = None

    @property
    def block_ids(self) -> set[str]:
        """Return which blocks failed."""
        return {block.block_id for block in self.missing}

    @property
    def findings(self) -> list[Finding]:
        """Return what to tell of them beside the results."""
        return [Finding("block-missing", block.block_id, f"Not planned: {block.reason}") for block in self.missing]

    @contextmanager
    def noted(self, block_id: str) -> Iterator[None]:
        """Note whatever stops the block that is planned inside, and go on after it."""
        try:
            yield
        except Exception as error:  # noqa: BLE001 - whatever it is, the other blocks are planned
            self.note(block_id, error)

    def note(self, block_id: str, error: BaseException | None) -> None:
        """Note that a block failed, and of what."""
        ours = not isinstance(error, WirerunError) or error.exit_code == Exit.OUR_FAULT
        self.missing.append(
            MissingBlock(
                block_id,
                tuple(self._faults(block_id, error)),
                "".join(traceback.format_exception(error)) if ours and not isinstance(error, MemoryError) else "",
            )
        )
        if error is not None:
            # What was made of the block must not fill the memory for the others.
            traceback.clear_frames(error.__traceback__)
        if ours and isinstance(error, Exception):
            self.cause = self.cause or error

    def _faults(self, block_id: str, error: BaseException | None) -> Iterable[Fault]:
        if isinstance(error, InputError):
            return [replace(fault, block_id=block_id) for fault in error.faults]
        if isinstance(error, SettingError):
            place = f"block {block_id}, {error.place}"
            return [Fault(self.file, place, error.message, error.exit_code, block_id)]
        return [Fault(self.file, f"block {block_id}", what_failed(error), Exit.OUR_FAULT, block_id)]

    def stop_if_none(self, planned: object) -> None:
        """Raise `NothingPlannedError` with all faults where no block is planned."""
        if planned:
            return
        faults = [fault for block in self.missing for fault in block.faults]
        if len(self.missing) == 1:  # an only block needs no name
            faults = [replace(fault, place=_bare_place(self.missing[0].block_id, fault)) for fault in faults]
        raise NothingPlannedError(tuple(faults)) from self.cause


def _bare_place(block_id: str, fault: Fault) -> str:
    """Return the place of a fault where its block is named already."""
    return fault.place.removeprefix(f"block {block_id}").removeprefix(", ")


def what_failed(error: BaseException | None) -> str:
    """Return in a sentence what a fault of ours is."""
    if isinstance(error, MemoryError):
        return "the work needs more memory than there is; plan fewer or smaller blocks at once, or take larger cells"
    said = str(error).strip().splitlines()
    what = f"{type(error).__name__}: {said[0][:_MOST_WORDS]}" if said else type(error).__name__
    return f"a fault of wirerun's own stopped the work ({what})"
