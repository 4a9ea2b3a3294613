"""What stays until the end, modules and the tables they hold, kept from the garbage collector's rounds.

By the second block that are 170 000 things. The collector goes through all of them several times a plan, a tenth of a
second each time, and finds nothing.
"""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def settled() -> Iterator[None]:
    """Leave what is there now out of the collector's rounds within the block; what is made there is still collected."""
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


def settle() -> None:
    """Leave what is there now out of the collector's rounds until the process ends, but what is garbage already."""
    gc.collect()
    gc.freeze()
