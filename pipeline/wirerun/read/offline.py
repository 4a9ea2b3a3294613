"""Keeps the projection libraries off the network."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from pyproj import network

_SWITCH: Final = "PROJ_NETWORK"


@contextmanager
def offline() -> Iterator[None]:
    """Have no library fetch shift grids within the block, whatever the environment says; put it back afterwards.

    What is fetched differs from day to day and from place to place: the same input would not give the same plan.
    """
    asked, environment = network.is_network_enabled(), os.environ.get(_SWITCH)
    # The libraries carry a copy of PROJ each: one hears the call, the others the environment.
    os.environ[_SWITCH] = "OFF"
    network.set_network_enabled(active=False)
    try:
        yield
    finally:
        network.set_network_enabled(active=asked)
        if environment is None:
            del os.environ[_SWITCH]
        else:
            os.environ[_SWITCH] = environment
