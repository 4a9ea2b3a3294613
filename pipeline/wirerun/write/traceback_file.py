"""The traceback of a fault of ours, kept where a person can find it and send it in: never shown on the terminal."""

import os
import platform
import tempfile
from importlib.metadata import version
from pathlib import Path


def keep_traceback(text: str) -> Path:
    """Write a traceback to a new file in the system's folder for temporary files, and return the file.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    handle, name = tempfile.mkstemp(prefix="wirerun-fault-", suffix=".txt")
    with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as file:
        file.write(f"wirerun {version('wirerun')}, Python {platform.python_version()}, {platform.system()}\n{text}")
    return Path(name)
