"""What can go wrong, and whose fault it is.

A fault of the user's is one plain sentence that names the file, the place in it, the value and the limit.
Readers gather faults in a `Faults` list and go on, so that a person sees all of them at once.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import IntEnum


class Exit(IntEnum):
    """Exit codes of the command, as documented in the README."""

    GOOD = 0
    OUR_FAULT = 1
    USAGE = 2
    BAD_INPUT = 3
    ELEVATION = 4
    FINDINGS = 5
    INTERRUPTED = 130


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
    """One thing wrong with what the user gave."""

    file: str
    place: str
    message: str
    exit_code: Exit = Exit.BAD_INPUT

    def __str__(self) -> str:
        """Return the sentence the user reads."""
        where = f"{self.file}, {self.place}" if self.place else self.file
        return f"{where}: {self.message}"


class InputError(WirerunError):
    """The input has faults; carries all of them."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults
        # Bad input outranks missing elevation: mend the input first, the cover may come right with it.
        codes = {fault.exit_code for fault in faults}
        self.exit_code = Exit.BAD_INPUT if Exit.BAD_INPUT in codes else Exit.ELEVATION


@dataclass(slots=True)
class Faults:
    """The faults found so far."""

    found: list[Fault] = field(default_factory=list)

    def add(self, file: object, place: str, message: str, exit_code: Exit = Exit.BAD_INPUT) -> None:
        """Note one fault and go on."""
        self.found.append(Fault(str(file), place, message, exit_code))

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
