"""The result folder: built out of sight beside its place, and put there by renaming when it is whole.

Whatever stops a run, the earlier result stays as it was. Nothing that a plan did not write is ever deleted.
"""

import hashlib
import os
import platform
import re
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from wirerun.errors import InputError, TargetError
from wirerun.records import RECORD
from wirerun.write.record import is_result, read_record

# Files that desktops and database readers drop into any folder they show; they go with the result.
_DROPPINGS: Final = (".DS_Store", "Thumbs.db", "desktop.ini")
# How folders beside the result end: one in the making, and an old result on its way out.
_PART, _OLD = ".part", ".old"
_SIDE_FILES: Final = ("-wal", "-shm", "-journal")


def check_target(target: Path, *, overwrite: bool) -> None:
    """Make sure that a result can be put at `target`, before the long work starts.

    If a run was killed at the moment between moving an old result away and the new one in, the old one is put back
    first.

    Raises
    ------
    TargetError
        If `target` is a file, holds a finished plan and `overwrite` is False, holds anything that a plan did not write
        (whatever `overwrite` says), or lies where nothing can be written.
    """
    try:
        _check(target, target.resolve(), overwrite=overwrite)
    except OSError as reason:
        raise _cannot(target, reason) from reason


def room_at(folder: Path) -> float:
    """Return how many bytes may still be written where a folder is."""
    return float(shutil.disk_usage(folder).free)


@contextmanager
def result_folder(target: Path, *, overwrite: bool) -> Iterator[Path]:
    """Give a temporary folder beside `target`, and put it in its place when the block ends well.

    On any exception, an interruption from the keyboard included, the temporary folder is removed and what stood at
    `target` stays. Folders of this kind left by killed runs on the same machine are removed on the way.

    Parameters
    ----------
    target : Path
        Where the result shall stand; missing parents are made.
    overwrite : bool
        Whether a finished plan that stands there is replaced.

    Raises
    ------
    TargetError
        As `check_target`, before the block and once more after it; or if a file cannot be written or a folder renamed.
    """
    check_target(target, overwrite=overwrite)
    place = target.resolve()
    draft = _beside(place, _PART)
    try:
        draft.mkdir(parents=True)
        yield draft
        _settle(draft)
        # The work took long: somebody may have put something there meanwhile.
        check_target(target, overwrite=overwrite)
        _swap(draft, place)
    except OSError as reason:
        raise _cannot(target, reason, draft) from reason
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _check(target: Path, place: Path, *, overwrite: bool) -> None:
    _tidy(place)
    if place.exists():
        _check_existing(target, place, overwrite=overwrite)
    parent = next(p for p in place.parents if p.exists())
    if not parent.is_dir():
        msg = f"{target} cannot be made: {parent} is a file"
        raise TargetError(msg)
    if not os.access(parent, os.W_OK | os.X_OK):
        msg = f"{target} cannot be made: there is no right to write in {parent}"
        raise TargetError(msg)


def _check_existing(target: Path, place: Path, *, overwrite: bool) -> None:
    if not place.is_dir():
        msg = f"{target} is a file; a plan needs a folder"
        raise TargetError(msg)
    if _is_empty_folder(place):
        return
    try:
        record = read_record(place)
    except InputError as reason:
        msg = f"{target} holds something that is not a finished plan, and is left alone; choose another folder"
        raise TargetError(msg) from reason
    if not overwrite:
        msg = f"{target} holds a finished plan already; choose another folder, or overwrite it (--overwrite)"
        raise TargetError(msg)
    foreign = _first_foreign(place, {RECORD, *record["outputs"]})
    if foreign:
        msg = f"{target} holds {foreign}, which the plan there did not write; move it away or choose another folder"
        raise TargetError(msg)


def _first_foreign(place: Path, ours: set[str]) -> str | None:
    """Return the first thing in a result that its record does not list, or None.

    A listed file that was changed since is still ours: the user asked to overwrite it.
    """
    for path in sorted(place.rglob("*")):
        name = path.relative_to(place).as_posix()
        side = next((name.removesuffix(end) for end in _SIDE_FILES if name.endswith(end)), name)
        folder = path.is_dir() and not path.is_symlink()
        if not folder and side not in ours and path.name not in _DROPPINGS:
            return name
    return None


def _swap(draft: Path, place: Path) -> None:
    """Put the new folder where the old one stands; if that fails, the old one stands there again."""
    aside = _beside(place, _OLD)
    try:
        if place.exists():
            place.rename(aside)
        draft.rename(place)
    except BaseException:
        if aside.exists() and not place.exists():
            aside.rename(place)
        raise
    _discard(aside)


def _settle(draft: Path) -> None:
    """Have every file on the disk itself: some disks say only then that they are full."""
    for path in sorted(draft.rglob("*")):
        if path.is_file():
            with path.open("r+b") as stream:
                os.fsync(stream.fileno())


def _discard(aside: Path) -> None:
    """Remove an old result for good; a new one must stand in its place.

    It is renamed first: what is called old is always whole, and may be put back.
    """
    doomed = aside.with_name(f"{aside.name.removesuffix(_OLD)}{_PART}")
    try:
        aside.rename(doomed)
    except OSError:
        return  # the new result stands: a remnant of the old one is no reason to fail, the next run tidies it away
    shutil.rmtree(doomed, ignore_errors=True)


def _beside(place: Path, kind: str) -> Path:
    """Return a new hidden name beside the result: its name, machine, process, a random part and the kind."""
    return place.with_name(f".{place.name}.{_machine()}-{os.getpid()}-{secrets.token_hex(4)}{kind}")


def _machine() -> str:
    """Return a short mark of this machine, since process numbers mean nothing on another one."""
    return hashlib.sha256(platform.node().encode()).hexdigest()[:8]


def _tidy(place: Path) -> None:
    """Remove what dead runs of this machine left beside the result, or put the old result back if it has none.

    An old result is removed only where a finished one stands: an empty folder of that name is no result.
    """
    if not place.parent.is_dir():
        return
    pattern = re.compile(rf"\.{re.escape(place.name)}\.{_machine()}-(\d+)-[0-9a-f]{{8}}({_PART}|{_OLD})")
    for path in sorted(place.parent.iterdir()):
        match = pattern.fullmatch(path.name)
        if match is None or _alive(int(match[1])):
            continue
        if match[2] == _PART:
            shutil.rmtree(path, ignore_errors=True)
        elif not place.exists() or _is_empty_folder(place):
            if place.exists():
                place.rmdir()
            path.rename(place)
        elif is_result(place):
            _discard(path)


def _is_empty_folder(place: Path) -> bool:
    return place.is_dir() and not any(place.iterdir())


def _alive(process: int) -> bool:
    """Return whether a process of this machine still runs; True where that cannot be asked without harm."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _cannot(target: Path, reason: OSError, draft: Path | None = None) -> TargetError:
    path = Path(str(reason.filename)) if reason.filename else None
    if path is not None and draft is not None and path != draft and path.is_relative_to(draft):
        path = path.relative_to(draft)
    where = f" ({path})" if path is not None and path != draft else ""
    return TargetError(f"{target} cannot be written: {reason.strerror or reason}{where}")
