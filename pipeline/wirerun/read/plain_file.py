"""Plain local files: whether one is there and may be read, and its fingerprint."""

import hashlib
import os
import stat
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from pathlib import Path

from wirerun.errors import Faults
from wirerun.records import Source


def plain_file(path: Path, given: str, faults: Faults) -> Path | None:
    """Absolute path of a file that is there, plain, readable and not empty; None, with a fault, where it is not.

    Only what this returns goes to a geospatial library: an absolute path to a regular file is never taken for a URL,
    a virtual path or a connection string.

    Parameters
    ----------
    path : Path
        Where the file should be.
    given : str
        The path as the user gave it, for the fault.
    faults : Faults
        Gets the fault.
    """
    try:
        real = path.resolve()
        status = real.stat()
    except (FileNotFoundError, NotADirectoryError):
        faults.add(given, "", f"there is no such file{_meant(path, given)}")
        return None
    except (OSError, ValueError, RuntimeError) as error:
        faults.add(given, "", f"the path cannot be followed: {getattr(error, 'strerror', None) or error}")
        return None
    trouble = _trouble(real, status)
    if trouble:
        faults.add(given, "", trouble)
        return None
    return real


@dataclass(frozen=True, slots=True)
class Part:
    """A file that an input consists of, and how it stood before it was read: its size and times of change."""

    path: Path
    stamp: tuple[int, int, int]


def part(path: Path) -> Part:
    """Return a file as it stands; call it before the file is opened, so that `source` sees a change made meanwhile."""
    return Part(path, _stamp(path))


def source(role: str, given: str, parts: Iterable[Part], faults: Faults) -> Source:
    """Role, path as given and SHA-256 of a file; of several parts, over all their bytes in the order of their names.

    Read in pieces, whatever the size. A part that was changed or replaced since it was looked at first is a fault: the
    fingerprint would not be that of what was read.
    """
    whole = tuple(sorted(parts, key=lambda one: one.path.name))
    try:
        digest = _digest(whole)
        changed = any(_stamp(one.path) != one.stamp for one in whole)
    except OSError:
        digest, changed = "", True
    if changed:
        faults.add(given, "", "the file was changed while it was read; run again when nothing writes to it")
    return Source(role, given, digest)


@lru_cache(maxsize=10_000)
def _digest(parts: tuple[Part, ...]) -> str:
    """SHA-256 of files as they stand; a large one is read once, however many blocks lie on it."""
    digest = hashlib.sha256()
    for one in parts:
        with one.path.open("rb") as stream:
            while piece := stream.read(1 << 20):
                digest.update(piece)
    return digest.hexdigest()


def _stamp(path: Path) -> tuple[int, int, int]:
    status = path.stat()
    return status.st_size, status.st_mtime_ns, status.st_ctime_ns


def _trouble(real: Path, status: os.stat_result) -> str | None:
    if str(real).startswith("/vsi"):
        return "the path leads to a virtual file system; only plain local files are read"
    if stat.S_ISDIR(status.st_mode):
        return "this is a folder, a file is wanted"
    if not stat.S_ISREG(status.st_mode):
        return "this is no plain file (a device, a pipe or a socket)"
    if not os.access(real, os.R_OK):
        return "the file may not be read: permission denied"
    return None if status.st_size else "the file is empty (0 bytes)"


def _meant(path: Path, given: str) -> str:
    """Return where it was looked for, and a file of nearly the same name beside the missing one."""
    looked = "" if str(path) == given else f"; looked for {path}"
    try:
        names = sorted(entry.name for entry in path.parent.iterdir())
    except OSError:
        return f"{looked}, and there is no folder {path.parent}"
    near = get_close_matches(path.name, names, n=1, cutoff=0.7)
    return f"{looked}; did you mean {near[0]}?" if near else looked
