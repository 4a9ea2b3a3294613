"""Work handed out to a cluster that somebody has set up, through dask.distributed (the extra `cluster`).

The scheduler looks after its workers: what one had in work when it was lost goes to another.
"""

import logging
from collections.abc import Callable, Iterator, Sequence
from typing import Final, TypeVar
from uuid import uuid4

from wirerun.errors import TargetError

_PATIENCE_S: Final = 20  # for a scheduler to answer: choice
_MOST_WORDS: Final = 200  # of what the library says

T = TypeVar("T")


def on_cluster(
    address: str,
    names: Sequence[str],
    task: Callable[[str], tuple[object, ...]],
    work: Callable[..., T],
    lost: Callable[[str, str], T],
) -> Iterator[T]:
    """Have work done by the workers of a scheduler, the first names first, and give what comes of it as it comes.

    Parameters
    ----------
    address : str
        The scheduler's, such as ``tcp://10.0.0.5:8786``.
    names : sequence of str
        What is to be done, by name.
    task : callable
        Gives the arguments for a name; they travel to a worker, so they should be small.
    work : callable
        Is called there with them. The package must be installed there, and where the scheduler runs.
    lost : callable
        Gives what stands in for the result where a name cost its worker process again and again, or could not be done
        there at all; hears the name and why.

    Raises
    ------
    TargetError
        If the library is missing, nobody answers at the address, or the scheduler has no workers.
    """
    try:
        from distributed import Client, as_completed  # noqa: PLC0415 - an extra
        from distributed.scheduler import KilledWorker  # noqa: PLC0415
    except ImportError as error:
        msg = "a scheduler needs the library distributed; install it with: pip install 'wirerun[cluster]'"
        raise TargetError(msg) from error
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        client = Client(address, timeout=_PATIENCE_S)
    except (OSError, ValueError) as error:
        msg = f"no scheduler answers at {address}"
        raise TargetError(msg) from error
    with client:
        if not client.scheduler_info()["workers"]:
            msg = f"the scheduler at {address} has no workers; start some, and run again"
            raise TargetError(msg)
        run = uuid4().hex
        futures = {
            client.submit(work, *task(name), key=f"wirerun-{run}-{number}", priority=-number, pure=False): name
            for number, name in enumerate(names)
        }
        for future in as_completed(list(futures)):
            name = futures.pop(future)
            try:
                made: T = future.result()
            except KilledWorker:
                made = lost(name, "it cost a worker process again and again, perhaps for want of memory")
            except Exception as error:  # noqa: BLE001 - whatever happens over there, the other names are done
                words = " ".join(str(error).split())[:_MOST_WORDS]
                made = lost(name, f"the cluster could not do it ({type(error).__name__}: {words})")
            yield made
