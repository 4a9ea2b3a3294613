"""What can go wrong, and whose fault it is.

A fault of the user's is one plain sentence that names the file, the place in it, the value and the limit.
Readers gather faults in a `Faults` list and go on, so that a person sees all of them at once.
"""

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import IntEnum
from typing import Final


class Exit(IntEnum):
    """Exit codes of the command, as documented in the README."""

    GOOD = 0
    OUR_FAULT = 1
    USAGE = 2
    BAD_INPUT = 3
    ELEVATION = 4
    FINDINGS = 5
    INTERRUPTED = 130


# Whose fault decides where there are several: ours first, for nothing else can be trusted until it is mended; then bad
# input before missing elevation, for the cover may come right with it.
_WORST_FIRST: Final = (Exit.OUR_FAULT, Exit.BAD_INPUT, Exit.ELEVATION)

# Sentences of one kind about one file that are told in full: choice. A person mends a cause, not nine hundred lines.
MOST_TOLD: Final = 20

# What tells one sentence of a kind from the next: names in quotes or brackets, and words with a digit in them.
_PARTICULARS: Final = re.compile(r"\([^()]*\)|\"[^\"]*\"|'[^']*'|[^\s\d]*\d\S*")


def worst(codes: Iterable[Exit]) -> Exit:
    """Exit code of several: that of our own fault, else of bad input, else of missing elevation, else good."""
    found = set(codes)
    return next((code for code in _WORST_FIRST if code in found), Exit.GOOD)


def printable(text: str) -> str:
    r"""Text with everything that a terminal would obey instead of showing written as an escape.

    Names of files, layers and attributes may hold anything: an escape sequence clears the screen, a line break forges
    a second message, a right-to-left mark turns one round, half a character is no text at all.

    >>> printable("a\x1b[2J\nb")
    'a\\x1b[2J\\nb'
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or unicodedata.category(c) == "Zs" else _escape(c) for c in text)


def _escape(character: str) -> str:
    return character.encode("unicode_escape").decode("ascii")


class WirerunError(Exception):
    """Base of everything this package raises on purpose."""

    exit_code = Exit.OUR_FAULT


class MechanicsError(WirerunError):
    """A formula was asked for something that has no answer, or a solver missed its residual."""


class SettingError(WirerunError):
    """A setting turned out not to work on this ground; a stage says which and why, the run says in which file."""

    exit_code = Exit.BAD_INPUT

    def __init__(self, place: str, message: str) -> None:
        super().__init__(f"{place}: {message}")
        self.place, self.message = place, message


class ModelError(WirerunError):
    """A value between the chapters does not keep what it promises."""


class TableError(WirerunError):
    """A stage handed over a table that does not match the column dictionary."""


class TargetError(WirerunError):
    """The output folder cannot be written as asked."""

    exit_code = Exit.USAGE


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with what the user gave.

    `block_id` names the block that it costs; empty where nothing can be planned as long as it stands.
    """

    file: str
    place: str
    message: str
    exit_code: Exit = Exit.BAD_INPUT
    block_id: str = ""

    def __str__(self) -> str:
        """Return the sentence the user reads."""
        where = f"{self.file}, {self.place}" if self.place else self.file
        return printable(f"{where}: {self.message}")

    @property
    def kind(self) -> tuple[str, str]:
        """Return what it has in common with others of its kind: the file, and the sentence without its particulars."""
        return self.file, _PARTICULARS.sub("", self.message)


def told(faults: Sequence[Fault]) -> list[str]:
    """Sentences for a person, in the order found: `MOST_TOLD` of a kind in full, then how many more there are."""
    of_kind = Counter(fault.kind for fault in faults)
    so_far: Counter[tuple[str, str]] = Counter()
    sentences = []
    for fault in faults:
        so_far[fault.kind] += 1
        if so_far[fault.kind] <= MOST_TOLD:
            sentences.append(str(fault))
        elif so_far[fault.kind] == of_kind[fault.kind]:
            sentences.append(printable(f"{fault.file}: and {of_kind[fault.kind] - MOST_TOLD} more like these"))
    return sentences


class InputError(WirerunError):
    """The input has faults; carries all of them."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("\n".join(told(faults)))
        self.faults = faults
        self.exit_code = worst(fault.exit_code for fault in faults)


@dataclass(slots=True)
class Faults:
    """The faults found so far. What is added here costs the block `block_id`; where that is empty, everything."""

    found: list[Fault] = field(default_factory=list)
    block_id: str = ""

    def of_block(self, block_id: str) -> "Faults":
        """Return the same list, for what costs one block only."""
        return Faults(self.found, block_id)

    def add(self, file: object, place: str, message: str, exit_code: Exit = Exit.BAD_INPUT) -> None:
        """Note one fault and go on."""
        self.found.append(Fault(str(file), place, message, exit_code, self.block_id))

    def take_over(self, faults: Iterable[Fault]) -> None:
        """Note faults that were found elsewhere."""
        self.found += [replace(fault, block_id=self.block_id) for fault in faults]

    @property
    def by_block(self) -> dict[str, tuple[Fault, ...]]:
        """Return the faults that cost single blocks, by block."""
        found: dict[str, list[Fault]] = {}
        for fault in self.found:
            if fault.block_id:
                found.setdefault(fault.block_id, []).append(fault)
        return {block_id: tuple(faults) for block_id, faults in found.items()}

    def __bool__(self) -> bool:
        """Return whether there is any."""
        return bool(self.found)

    def __iter__(self) -> Iterator[Fault]:
        """Go through the faults in the order found."""
        return iter(self.found)

    def stop_if_any(self) -> None:
        """Raise `InputError` with every fault, if there is one."""
        if self.found:
            raise InputError(tuple(self.found))
