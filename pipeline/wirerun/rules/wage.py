"""What an hour of the crew counts where ways of working are weighed: to change kinds, to come back, to carry a coil.

What is bought, fixings and end assemblies, is chosen by what is paid: there an hour without a price counts nothing.
"""

from typing import Final

from wirerun.settings import WorkSettings

#: Of a config that prices no labour: as in the demo's. Choice; an hour that counts nothing would make every visit free.
HOUR: Final = 20.0


def hour_to_weigh(work: WorkSettings) -> float:
    """What an hour counts for weighing [currency]; hours that are paid go by `work.labour_per_hour` alone."""
    return work.labour_per_hour or HOUR
