"""What was measured in the field: the CSV files that a config names, each row with the line it stands in."""

from typing import Any, Final

from wirerun.errors import Faults
from wirerun.measurements import Measured
from wirerun.read.catalogue import read_numbered
from wirerun.read.plain_file import part, plain_file, source
from wirerun.records import Source
from wirerun.settings import Config
from wirerun.settings.measured import ClipTest, FreedHeight, PullOutTest, TensionReading, TimedWork
from wirerun.settings.section import TextRow

#: The files by their setting, and the class of their rows.
FILES: Final[dict[str, type[TextRow]]] = {
    "tensions": TensionReading,
    "clip_tests": ClipTest,
    "pull_out_tests": PullOutTest,
    "minutes": TimedWork,
    "freed_heights": FreedHeight,
}


def read_measured(config: Config, faults: Faults) -> tuple[Measured, tuple[Source, ...]]:
    """Rows of the files that the config names, and their fingerprints.

    Parameters
    ----------
    config : Config
        Its `measured`.
    faults : Faults
        Gets the faults: a row that will not do, a table without rows.
    """
    rows: dict[str, Any] = {}
    files: dict[str, str] = {}
    sources: list[Source] = []
    for name, kind in FILES.items():
        given = getattr(config.measured, name)
        real = None if given is None else plain_file(config.path(given), given, faults)
        if real is None:
            continue
        files[name] = given
        parts = [part(real)]
        rows[name] = read_numbered(real, given, kind, faults)
        sources.append(source("measured", given, parts, faults))
    return Measured(**rows, files=files), tuple(sources)
