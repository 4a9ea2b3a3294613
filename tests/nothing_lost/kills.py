"""A plan or a survey that overwrites another is killed at any moment: the old one stands or the new one, whole.

By hand: `python -m tests.nothing_lost.kills 200`, or `... 50 survey`. Random moments seldom meet the renaming, which
takes no time: so runs also die on purpose before each of their renames, and after the last.
"""

import os
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Final

from wirerun.cli import main
from wirerun.write.folder import check_target

from tests.nothing_lost.plans import Print, beside, print_of, two_plans, two_surveys

# Renames of a run that overwrites: the old result aside, the new one in its place, the old one to what is deleted.
_RENAMES: Final = 3
_PARTS = {"plan": ("--only", "schedule", "--only", "gis", "--only", "map"), "survey": ()}
_MADE = {"plan": two_plans, "survey": two_surveys}


@dataclass
class Seen:
    """How often which plan stood after a kill, and everything that may not be."""

    stood: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


def _dying(number: int, place: Path) -> None:
    """Have this process killed at its rename of that number of a result's folder: before it, or after the last."""
    usual, met = Path.rename, [0]

    def rename(self: Path, target: Path) -> Path:
        if self != place and not self.name.startswith(f".{place.name}."):
            return usual(self, target)
        met[0] += 1
        if met[0] == number:
            os.kill(os.getpid(), signal.SIGKILL)
        done = usual(self, target)
        if met[0] == _RENAMES:
            os.kill(os.getpid(), signal.SIGKILL)
        return done

    Path.rename = rename  # type: ignore[method-assign,assignment]


def _begin(words: list[str], *, dies_at: int = 0, place: Path = Path()) -> int:
    """Run a command in a child of this process, in which everything is loaded; return its number."""
    child = os.fork()
    if child:
        return child
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    if dies_at:
        _dying(dies_at, place)
    try:
        main(words, standalone_mode=False)
    except SystemExit as end:
        os._exit(int(end.code or 0))
    os._exit(1)


def _ended_well(words: list[str]) -> float:
    """Run a command to its end and return the seconds it took."""
    start = time.monotonic()
    _, status = os.waitpid(_begin(words), 0)
    assert os.waitstatus_to_exitcode(status) == 0
    return time.monotonic() - start


def kill_often(count: int, seed: int, folder: Path, command: str) -> Seen:
    """Kill a command at so many moments, more of them late, while it writes."""
    plans, chance, seen = _MADE[command](folder), Random(seed), Seen()
    target = folder / "out"

    def words(which: int, place: Path = target) -> list[str]:
        return [command, str(plans.configs[which]), "--out", str(place), "--overwrite", "--quiet", *_PARTS[command]]

    whole = []
    for which in (0, 1):
        _ended_well(words(which, folder / f"whole{which}"))
        whole.append(print_of(folder / f"whole{which}"))
    assert whole[0] != whole[1]
    seconds = _ended_well(words(0))
    for number in range(count):
        child = _begin(words(number % 2))
        late = chance.random() < 0.6
        time.sleep(seconds * (chance.uniform(0.6, 1.05) if late else chance.uniform(0.0, 0.6)))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        ended = "killed" if os.WIFSIGNALED(status) else "had ended"
        _look(target, whole, f"{command} {ended}", f"kill {number}", seen)
    _ended_well(words(0))
    for dies_at in range(1, _RENAMES + 2):
        # The new one stands from the second rename on.
        _, status = os.waitpid(_begin(words(1), dies_at=dies_at, place=target), 0)
        if not os.WIFSIGNALED(status):
            seen.wrong.append(f"rename {dies_at}: it was not met")
        _look(target, whole, f"{command} killed at rename {dies_at}", f"rename {dies_at}", seen)
        if print_of(target) != whole[dies_at > _RENAMES - 1]:
            seen.wrong.append(f"rename {dies_at}: the other one stands")
        _ended_well(words(0))
        if print_of(target) != whole[0] or beside(target):
            seen.wrong.append(f"rename {dies_at}, then a run that ends well: beside it {beside(target)}")
    _ended_well(words(1))
    if print_of(target) != whole[1] or beside(target):
        seen.wrong.append(f"at the end: beside it {beside(target)}")
    return seen


def _look(target: Path, whole: list[Print], ended: str, which: str, seen: Seen) -> None:
    """See what stands after a kill; what lies between the two renames the next run puts back, whatever it does then."""
    between = not target.exists()
    if len(beside(target)) > 1 + between:
        seen.wrong.append(f"{which}: beside it {beside(target)}")
    if between:
        ended += ", put back"
        check_target(target, overwrite=True)
    stands = print_of(target)
    if stands not in whole:
        seen.wrong.append(f"{which} ({ended}): neither the old one nor the new one")
    else:
        seen.stood[f"{ended}: {'ab'[whole.index(stands)]}"] += 1


if __name__ == "__main__":
    place = Path(tempfile.mkdtemp(prefix="kills-"))
    found = kill_often(int(sys.argv[1]), 1, place, sys.argv[2] if sys.argv[2:] else "plan")
    shutil.rmtree(place)
    print(dict(found.stood), *found.wrong, sep="\n")
    sys.exit(bool(found.wrong))
