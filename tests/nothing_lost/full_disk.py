"""A disk that is full at any moment while a result is written: the old result stays, whole, or the new one is whole.

Runs on a small disk in memory, mounted in a namespace of its own: `python -m tests.nothing_lost.full_disk 30`, and with
`survey` behind it for surveys, whose disk fills while they are at work: one that has too little room is not begun.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from itertools import product
from pathlib import Path
from typing import Final

from wirerun import api
from wirerun.errors import Exit, TargetError
from wirerun.progress import Progress
from wirerun.settings.ground import FORMATS

from tests.nothing_lost.plans import as_json, beside, print_of, two_plans, two_surveys

_MOUNTED: Final = "MOUNTED"
_DISK_MB: Final = 64


def mounting(words: list[str], disk: Path) -> list[str]:
    """Return the command that runs another with a disk in memory."""
    mount = f'mount -t tmpfs -o size={_DISK_MB}m tmpfs "{disk}" && exec "$@"'
    return ["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", mount, "sh", *words]


def can_mount() -> bool:
    """Return whether this machine lets us have a disk in memory."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            return subprocess.run(mounting(["true"], Path(folder)), capture_output=True, check=False).returncode == 0
        except OSError:
            return False


def _leave(disk: Path, bytes_free: int) -> None:
    """Fill a disk until so much is free."""
    filler = disk / "filler"
    filler.unlink(missing_ok=True)
    there = os.statvfs(disk)
    with filler.open("wb") as stream:
        stream.write(b"x" * max(0, there.f_bavail * there.f_frsize - bytes_free))


def _kinds() -> Iterator[tuple[str, tuple[str, ...], str]]:
    """Go through what is written: a name, the parts, the formats."""
    yield from (("gis", ("gis",), name) for name in ("none", *FORMATS))
    yield from ((part, (part,), "none") for part in ("schedule", "map", "cards"))


def fill_often(sizes: int, disk: Path) -> tuple[Counter[str], list[str]]:
    """Write every part in every format with so many sizes of room, over an earlier result, and return what was seen."""
    seen: Counter[str] = Counter()
    wrong = []
    plans = two_plans(Path(tempfile.mkdtemp(prefix="full-", dir=disk)))
    made = [api.plan_config(api.load_config(config)) for config in plans.configs]
    for name, parts, formats in _kinds():
        output = made[1].config.output.model_copy(update={"formats": () if formats == "none" else (formats,)})
        config = made[1].config.model_copy(update={"output": output})
        new = api.Plan(
            **{field: getattr(made[1], field) for field in made[1].__dataclass_fields__} | {"config": config}
        )
        target, whole = plans.folder / "out", plans.folder / "whole"
        new.write(whole, parts)
        print_of_new = print_of(whole)
        need = sum(path.stat().st_size + 4096 for path in whole.rglob("*") if path.is_file())
        shutil.rmtree(whole)
        made[0].write(target, ("schedule",), overwrite=True)
        print_of_old = print_of(target)
        for number in range(sizes):
            _leave(disk, int(need * 1.3 * (number + 0.5) / sizes))
            what = f"{name} {formats}, room {number + 1} of {sizes}"
            try:
                new.write(target, parts, overwrite=True)
            except TargetError as error:
                seen["refused"] += 1
                expected = print_of_old
                if "\n" in str(error):
                    wrong.append(f"{what}: {error}")
            except Exception as error:  # noqa: BLE001 - that is what is looked for
                wrong.append(f"{what}: {error!r}")
                expected = print_of_old
            else:
                seen["written"] += 1
                expected = print_of_new
            (disk / "filler").unlink(missing_ok=True)
            wrong += _faults(what, target, expected)
            if expected is print_of_new:
                made[0].write(target, ("schedule",), overwrite=True)
    return seen, wrong


def _faults(what: str, target: Path, expected: dict[str, str]) -> list[str]:
    """What is wrong with what a full disk has left: another result than expected, or something beside it."""
    faults = [] if print_of(target) == expected else [f"{what}: what stands there is not whole"]
    return [*faults, *([f"{what}: beside it {beside(target)}"] if beside(target) else [])]


def fill_surveys(sizes: int, disk: Path) -> tuple[Counter[str], list[str]]:
    """Survey over an earlier result; as the ground begins, then as the rest does, so many sizes of room are left."""
    seen: Counter[str] = Counter()
    wrong = []
    surveys = two_surveys(Path(tempfile.mkdtemp(prefix="full-", dir=disk)))
    target, whole = surveys.folder / "out", surveys.folder / "whole"
    api.survey_file(surveys.configs[1], whole)
    print_of_new = print_of(whole)
    need = {
        "ground": sum(path.stat().st_size + 4096 for path in whole.rglob("*.tif")),
        "write": sum(path.stat().st_size + 4096 for path in whole.rglob("*") if path.suffix != ".tif"),
    }
    shutil.rmtree(whole)
    api.survey_file(surveys.configs[0], target)
    print_of_old = print_of(target)
    for stage, number in product(need, range(sizes)):
        what = f"{stage}, room {number + 1} of {sizes}"
        room = int(need[stage] * 1.3 * (number + 0.5) / sizes)

        def fill(begun: str, stage: str = stage, room: int = room) -> None:
            if begun == stage:
                _leave(disk, room)

        expected = print_of_old
        try:
            api.survey_file(surveys.configs[1], target, overwrite=True, progress=Progress(fill))
        except TargetError as error:
            seen["refused"] += 1
            if "\n" in str(error) or "cannot be written" not in str(error) or error.exit_code != Exit.USAGE:
                wrong.append(f"{what}: {error}")
        except Exception as error:  # noqa: BLE001 - that is what is looked for
            wrong.append(f"{what}: {error!r}")
        else:
            seen["written"] += 1
            expected = print_of_new
        (disk / "filler").unlink(missing_ok=True)
        wrong += _faults(what, target, expected)
        if expected is print_of_new:
            api.survey_file(surveys.configs[0], target, overwrite=True)
    return seen, wrong


if __name__ == "__main__":
    if sys.argv[-1] == _MOUNTED:
        fill = fill_surveys if "survey" in sys.argv else fill_often
        counts, faults = fill(int(sys.argv[1]), Path(sys.argv[2]))
        print(as_json(seen=counts, wrong=faults))
    else:
        folder = Path(tempfile.mkdtemp(prefix="disk-"))
        start = time.monotonic()
        words = [
            sys.executable,
            "-m",
            "tests.nothing_lost.full_disk",
            sys.argv[1],
            str(folder),
            *sys.argv[2:],
            _MOUNTED,
        ]
        subprocess.run(mounting(words, folder), check=True)
        print(f"{time.monotonic() - start:.0f} s")
