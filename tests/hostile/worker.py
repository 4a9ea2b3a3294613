"""A process that runs hostile cases one after the other; a library that falls over takes it along, and nothing else.

Reads the name of a case from each line of its input, answers each with a line of JSON.
"""

import contextlib
import ctypes
import gc
import json
import os
import shutil
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from click.testing import CliRunner
from wirerun.cli import main

from tests.hostile.every import make


def _memory_mb(what: str) -> float:
    """Return the memory that is resident (VmRSS), or the most that was (VmHWM); 0 where there is no such file."""
    status = Path("/proc/self/status")
    lines = status.read_text().splitlines() if status.exists() else []
    return sum(float(line.split()[1]) / 1e3 for line in lines if line.startswith(what))


def _begin_anew() -> None:
    """Give back what the case before took, and count the most memory from here on."""
    gc.collect()
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL(None).malloc_trim(0)
        Path("/proc/self/clear_refs").write_text("5")


def run(case: str) -> dict[str, Any]:
    """Make a case, run its commands and return what came of them."""
    folder = Path(tempfile.mkdtemp(prefix="hostile-"))
    answers: list[dict[str, Any]] = []
    try:
        commands = make(case, folder)
        before = sorted(path.name for path in folder.iterdir())
        print(json.dumps({"made": case}), flush=True)
        os.chdir(folder)
        for words in commands or [["check", "config.toml"], ["plan", "config.toml", "--out", "out"]]:
            if answers and answers[0]["code"]:
                break
            only = [] if words[0] != "plan" or case.endswith(("0", "4", "8")) else ["--only", "schedule"]
            _begin_anew()
            start = time.process_time()
            done = CliRunner().invoke(main, [*words, *only])
            answers.append(
                {
                    "words": [*words, *only],
                    "code": done.exit_code,
                    "seconds": time.process_time() - start,
                    "peak_mb": _memory_mb("VmHWM"),
                    "stderr": done.stderr.replace(str(folder), "")[:20_000],
                    "raised": repr(done.exception),
                }
            )
        left = sorted(path.name for path in folder.iterdir() if path.name not in before and path.name.startswith("."))
        _begin_anew()
        return {"answers": answers, "left": left, "kept_mb": _memory_mb("VmRSS")}
    finally:
        os.chdir("/")
        shutil.rmtree(folder, ignore_errors=True)


def _limit_memory(gigabytes: float) -> None:
    """Keep a case that wants all memory from taking it from others."""
    with contextlib.suppress(ImportError):
        import resource  # noqa: PLC0415 - not on every system

        resource.setrlimit(resource.RLIMIT_AS, (int(gigabytes * 1e9),) * 2)


if __name__ == "__main__":
    _limit_memory(6.0)
    for line in sys.stdin:
        print(json.dumps(run(line.strip())), flush=True)
