"""The user's limits for machines between the rows."""

from wirerun.errors import Faults
from wirerun.read.catalogue import read_rows
from wirerun.read.plain_file import part, plain_file, source
from wirerun.records import Source
from wirerun.settings import Config, MachineLimit


def read_machine_limits(config: Config, faults: Faults) -> tuple[tuple[MachineLimit, ...], tuple[Source, ...]]:
    """Limits as the config names their file, and its fingerprint; none where it names none.

    Parameters
    ----------
    config : Config
        Its `machines.limits`.
    faults : Faults
        Gets the faults.
    """
    given = config.machines.limits
    real = None if given is None else plain_file(config.path(given), given, faults)
    if real is None or given is None:
        return (), ()
    rows = tuple(row for row in read_rows(real, given, MachineLimit, faults) if isinstance(row, MachineLimit))
    return rows, (source("machine limits", given, [part(real)], faults),)
