"""How a command talks: sentences, findings and faults to stderr, and an exit code at the end."""

import json
import sys
import traceback
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import cache, wraps
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec

import click

from wirerun.errors import MOST_TOLD, Exit, InputError, WirerunError, printable, told, worst
from wirerun.findings import Finding
from wirerun.missing import MissingBlock, what_failed
from wirerun.progress import Progress
from wirerun.wording import many, number

if TYPE_CHECKING:
    from rich.console import Console

# Warnings of one kind that are told in full: choice.
_MOST_OF_A_KIND = 3

P = ParamSpec("P")


@cache
def terminal() -> "Console":
    """Return where a command talks to; its library is imported by what says something, which ``--help`` does not."""
    from rich.console import Console

    # No markup: names from the user's files may hold square brackets.
    return Console(stderr=True, highlight=False, markup=False)


def answers(command: Callable[P, int | None]) -> Callable[P, None]:
    """Turn what a command raises into a sentence and an exit code."""

    @wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            code = command(*args, **kwargs) or Exit.GOOD
        except InputError as error:
            for sentence in told(error.faults):
                say(f"error: {sentence}")
            say(f"{many(len(error.faults), 'fault')}; nothing was written.")
            code = error.exit_code
            if code == Exit.OUR_FAULT:
                keep(traceback.format_exc())
        except WirerunError as error:
            say(f"error: {error}")
            code = error.exit_code
        except KeyboardInterrupt:
            say("interrupted; earlier results are as they were.")
            code = Exit.INTERRUPTED
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise  # the library's own ways to end
        except MemoryError:
            say(f"error: {what_failed(MemoryError())}.")
            code = Exit.OUR_FAULT
        except Exception as error:  # noqa: BLE001 - the last catch: a person never sees a traceback
            say(f"error: {what_failed(error)}.")
            keep(traceback.format_exc())
            code = Exit.OUR_FAULT
        sys.exit(int(code))

    return run


def say(text: str) -> None:
    """Say a sentence that may hold words from the user's files: no markup is read in it, no control character obeyed.

    A terminal gets it wrapped at words; a log gets it on one line.
    """
    terminal().print(printable(text), soft_wrap=not terminal().is_terminal)


def keep(text: str) -> None:
    """Keep a traceback in a file and say where."""
    from wirerun.write.traceback_file import keep_traceback

    try:
        say(f"What Python says of it is kept in {keep_traceback(text)}: please send that file with a report.")
    except OSError as error:
        say(f"What Python says of it could not be kept: {error.strerror}.")


def say_missing(missing: Iterable[MissingBlock]) -> Exit:
    """Name the blocks that are not in the plan, each with the reason, and return whose fault it is."""
    blocks = list(missing)
    for block in blocks[:MOST_TOLD]:
        say(f"error: block {block.block_id} is not planned: {block.reason}")
    if len(blocks) > MOST_TOLD:
        say(f"error: and {len(blocks) - MOST_TOLD} more blocks are not planned")
    tracebacks = [f"block {block.block_id}\n{block.traceback}" for block in blocks if block.traceback]
    if tracebacks:
        keep("\n".join(tracebacks))
    return worst(block.exit_code for block in blocks)


def say_each(findings: Iterable[Finding]) -> None:
    """Say what was noticed where no file has it: `MOST_TOLD` of a code in full, then how many more there are."""
    by_code: dict[str, list[Finding]] = {}
    for finding in findings:
        by_code.setdefault(finding.code, []).append(finding)
    for code, each in by_code.items():
        for finding in each[:MOST_TOLD]:
            say(f"{finding.level}: {finding.place}: {finding.message}")
        if len(each) > MOST_TOLD:
            say(f"{each[0].level}: and {number(len(each) - MOST_TOLD)} more like these ({code})")


def say_findings(findings: Iterable[tuple[str, str, str, str]], full: Path) -> None:
    """Say what was noticed, by kind: some warnings of each in full, of notes how many; the rest is in a file."""
    from rich.table import Table

    from wirerun.findings import by_code

    kinds = by_code(findings)
    table = Table(box=None, show_header=False, pad_edge=False)
    for justify in ("right", "left", "left"):
        table.add_column(justify=justify)
    for kind in kinds:
        if kind.level == "note":
            table.add_row(number(len(kind.sentences)), kind.code, kind.meaning)
            continue
        for sentence in kind.some(_MOST_OF_A_KIND):
            say(f"{kind.level}: {sentence}")
    if table.row_count:
        say("Notes by kind:")
        terminal().print(table)
    if kinds and full.exists():
        say(f"{many(sum(len(kind.sentences) for kind in kinds), 'finding')} in full: {full}")


@contextmanager
def showing_progress(*, quiet: bool) -> Iterator[Callable[[], Progress]]:
    """Show the stage at work, on a terminal only."""
    with terminal().status("starting") as status:
        if quiet or not terminal().is_terminal:
            status.stop()

        def make() -> Progress:
            return Progress(tell=status.update)

        yield make


def record_of(target: Path) -> str:
    """Return the record of a result, as JSON."""
    from wirerun.write.record import read_record

    return json.dumps(read_record(target), indent=2)
