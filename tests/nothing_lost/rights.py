"""What a plain user may not read, write or move: a sentence each, and what stood there stands."""

import contextlib
import importlib
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from wirerun.cli import main
from wirerun.errors import Exit

from tests.nothing_lost.plans import print_of, two_plans

_NOBODY: Final = 65_534
_PATIENCE_S: Final = 120


@dataclass
class Case:
    """One thing that is forbidden, and the exit codes that may come of it."""

    name: str
    forbid: Callable[[Path], None]
    codes: tuple[Exit, ...]
    out: str = "mine/out"


def _mode(name: str, mode: int) -> Callable[[Path], None]:
    return lambda folder: (folder / name).chmod(mode)


def _sticky(folder: Path) -> None:
    """Let another's plan stand in a folder in which only owners move things."""
    (folder / "mine").chmod(0o1777)
    os.chown(folder / "mine", 0, 0)
    os.chown(folder / "mine" / "out", 0, 0)


CASES: Final = (
    Case("raster", _mode("ground.tif", 0o000), (Exit.BAD_INPUT,)),
    Case("boundary", _mode("block.geojson", 0o000), (Exit.BAD_INPUT,)),
    Case("config", _mode("a.toml", 0o000), (Exit.USAGE, Exit.BAD_INPUT)),
    Case("folder above the result", _mode("mine", 0o555), (Exit.USAGE,)),
    Case("new folder where nothing may be made", _mode("mine", 0o555), (Exit.USAGE,), "mine/new/out"),
    Case("result that may not be read", _mode("mine/out", 0o000), (Exit.USAGE,)),
    Case("record that may not be read", _mode("mine/out/run.json", 0o000), (Exit.USAGE,)),
    Case("result of another user's", _sticky, (Exit.USAGE,)),
)


def forbidden(root: Path) -> Iterator[str]:
    """Go through the cases as a plain user, and through everything that may not be."""
    plans = two_plans(root)
    made = root / "mine" / "out"
    made.parent.mkdir()
    _, loaded = _in_child(_words(plans.configs[1], made), user=0)
    # Here and now: a plain user may not even read the modules of some installations.
    for name in loaded.splitlines():
        with contextlib.suppress(Exception):
            importlib.import_module(name)
    before = print_of(made)
    for case in CASES:
        folder = Path(tempfile.mkdtemp(prefix="rights-"))
        place = folder / "estate"
        shutil.copytree(root, place)
        for path in (folder, *folder.rglob("*")):
            os.chown(path, _NOBODY, _NOBODY)
        folder.chmod(0o755)
        case.forbid(place)
        code, said = _in_child(_words(place / "a.toml", place / case.out), _NOBODY)
        if code not in case.codes:
            yield f"{case.name}: exit code {code}: {said}"
        # The second is how the library says it that reads the command line.
        if "Traceback" in said or not ("error: " in said or "Error: " in said):
            yield f"{case.name}: {said}"
        for path in (place / "mine", place / "mine" / "out"):
            path.chmod(0o755)
        if print_of(place / "mine" / "out") != before:
            yield f"{case.name}: what stood there is not what it was"
        shutil.rmtree(folder)


def _words(config: Path, target: Path) -> list[str]:
    return ["plan", str(config), "--out", str(target), "--overwrite", "--quiet", "--only", "schedule"]


def _in_child(words: list[str], user: int) -> tuple[int, str]:
    """Run a command as a user in a child of this process; return its exit code and what it said, or loaded."""
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        signal.alarm(_PATIENCE_S)
        os.dup2(writing, 1)
        os.dup2(writing, 2)
        if user:
            os.setgroups([])
            os.setgid(user)
            os.setuid(user)
        try:
            main(words)
        except SystemExit as end:
            if not end.code:
                os.write(1, "\n".join(sys.modules).encode())
            os._exit(int(end.code or 0))
        os._exit(99)
    os.close(writing)
    with os.fdopen(reading, errors="replace") as stream:
        said = stream.read()
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), said


if __name__ == "__main__":
    estate = Path(tempfile.mkdtemp(prefix="estate-"))
    wrong = list(forbidden(estate))
    shutil.rmtree(estate)
    print(*wrong, sep="\n")
    sys.exit(bool(wrong))
