"""Drives hostile cases through a process watched for time and memory, and says what each did that it may not."""

import json
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from queue import Empty, Queue
from threading import Thread
from typing import Any, Final

from wirerun.errors import Exit

MOST_SECONDS: Final = 10.0  # of the processor
MOST_MB: Final = 1000.0
_MOST_LINES: Final = 120
#: A case that takes longer than this by the clock is stopped, however busy the machine is.
_PATIENCE_S: Final = 300.0
_GOOD_ENDS: Final = {Exit.GOOD, Exit.USAGE, Exit.BAD_INPUT, Exit.ELEVATION}
_CASES_A_PROCESS: Final = 60
_MOST_KEPT_MB: Final = 600.0  # else the next case would seem to take it
_ROOT: Final = Path(__file__).parents[2]


@dataclass(slots=True)
class Seen:
    """What was seen of a case; `wrong` is empty where it did nothing that it may not."""

    case: str
    wrong: list[str] = field(default_factory=list)
    answers: list[dict[str, Any]] = field(default_factory=list)

    @property
    def told(self) -> str:
        """Return a line on it."""
        ends = ", ".join(
            f"{one['words'][0]} {one['code']} {one['seconds']:.1f} s {one['peak_mb']:.0f} MB" for one in self.answers
        )
        return f"{self.case}: {ends or 'no answer'}: {'; '.join(self.wrong)}"


class _Process:
    """A worker and what it says, line by line."""

    def __init__(self) -> None:
        self._child = subprocess.Popen(
            [sys.executable, "-m", "tests.hostile.worker"],
            cwd=_ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            errors="replace",
        )
        self._lines: Queue[dict[str, Any] | None] = Queue()
        self._said: list[str] = []
        Thread(target=self._listen, daemon=True).start()
        Thread(target=self._hear, daemon=True).start()

    def _listen(self) -> None:
        for line in self._child.stdout or ():
            self._lines.put(json.loads(line))
        self._lines.put(None)

    def _hear(self) -> None:
        self._said += [line for line in self._child.stderr or () if line.strip()]

    def ask(self, case: str, patience_s: float) -> tuple[dict[str, Any] | None, str]:
        """Return what a worker answers, or None and why there is no answer."""
        if self._child.stdin is None:
            return None, "no process"
        self._child.stdin.write(f"{case}\n")
        self._child.stdin.flush()
        made, end = False, time.monotonic() + patience_s
        while True:
            try:
                said = self._lines.get(timeout=max(0.1, end - time.monotonic()))
            except Empty:
                return None, f"no end after {patience_s:g} s" if made else "the case itself was not made in time"
            if said is None:
                return None, f"the process fell (code {self._child.wait()})"
            if "made" not in said:
                said["said"] = self._said[:]
                self._said.clear()
                return said, ""
            made, end = True, time.monotonic() + patience_s

    def end(self) -> None:
        self._child.kill()
        self._child.wait()
        for pipe in (self._child.stdin, self._child.stdout, self._child.stderr):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()


def watch(cases: Iterable[str], patience_s: float = _PATIENCE_S) -> Iterator[Seen]:
    """Run cases and go through what was seen of each."""
    process: _Process | None = None
    asked = 0
    try:
        for case in cases:
            if process is None or asked >= _CASES_A_PROCESS:
                if process is not None:
                    process.end()
                process, asked = _Process(), 0
            asked += 1
            said, why = process.ask(case, patience_s)
            seen = Seen(case)
            if said is None:
                seen.wrong.append(why)
                process.end()
                process = None
            else:
                seen.answers = said["answers"]
                seen.wrong += list(_wrong(said))
                asked += _CASES_A_PROCESS if said["kept_mb"] > _MOST_KEPT_MB else 0
            yield seen
    finally:
        if process is not None:
            process.end()


def _wrong(said: dict[str, Any]) -> Iterator[str]:
    """Go through what a case did that none may do."""
    if said["left"]:
        yield f"it left {', '.join(said['left'])}"
    if said["said"]:
        yield f"a library said {said['said'][0].strip()[:200]!r}"
    for one in said["answers"]:
        lines = one["stderr"].splitlines()
        if one["code"] not in _GOOD_ENDS:
            yield f"exit code {one['code']}: {next((line for line in lines if 'error' in line), one['raised'])[:300]}"
        if "Traceback" in one["stderr"] or "Exception ignored" in one["stderr"]:
            yield "a traceback"
        if not one["raised"].startswith(("None", "SystemExit")):
            yield f"raised {one['raised'][:300]}"
        if one["seconds"] > MOST_SECONDS:
            yield f"{one['words'][0]} took {one['seconds']:.1f} s"
        if one["peak_mb"] > MOST_MB:
            yield f"{one['words'][0]} took {one['peak_mb']:.0f} MB"
        if len(lines) > _MOST_LINES:
            yield f"{len(lines)} lines"
        if any(not line.isprintable() and not line.replace("\u202f", " ").isprintable() for line in lines):
            yield "control characters"
        if one["code"] in {Exit.BAD_INPUT, Exit.ELEVATION} and not any(line.startswith("error: ") for line in lines):
            yield "refused without a sentence"
