"""Keeps the libraries off the network, and from what the environment would have them do otherwise."""

import locale
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

import pandas as pd
from pyproj import network

_SWITCH: Final = "PROJ_NETWORK"
# How the options of the geospatial libraries begin, which they also take from the environment; and the day that the
# writer of PDF would stamp. Where the libraries find their own files, and how much memory they take, is left alone.
_OPTIONS: Final = ("CPL_", "GDAL_", "GEOJSON_", "GPKG_", "GTIFF_", "GTIF_", "OGR_", "OSR_", "SHAPE_", "SQLITE_", "VSI_")
_MORE: Final = frozenset({"SOURCE_DATE_EPOCH", "CENTER_LONG", "CHECK_DISK_FREE_SPACE", "USE_RRD"})
_LEFT: Final = frozenset({"GDAL_CACHEMAX", "GDAL_DATA", "GDAL_DRIVER_PATH"})


@contextmanager
def offline() -> Iterator[None]:
    """Have no library fetch anything within the block, nor heed the environment's options or alphabet; put all back.

    What is fetched differs from day to day, and options from place to place: the same input would not give the same
    plan.
    """
    asked, environment = network.is_network_enabled(), os.environ.copy()
    alphabet = locale.setlocale(locale.LC_CTYPE)
    # In some alphabets the small letter of I is another one, and names of options and types are not found by it.
    with suppress(locale.Error):  # not every system has this one
        locale.setlocale(locale.LC_CTYPE, "C.UTF-8")
    for name in environment:
        if name not in _LEFT and (name in _MORE or name.startswith(_OPTIONS)):
            del os.environ[name]
    # The libraries carry a copy of PROJ each: one hears the call, the others the environment.
    os.environ[_SWITCH] = "OFF"
    network.set_network_enabled(active=False)
    try:
        yield
    finally:
        network.set_network_enabled(active=asked)
        locale.setlocale(locale.LC_CTYPE, alphabet)
        os.environ.pop(_SWITCH, None)
        os.environ.update(environment)


@contextmanager
def alike() -> Iterator[None]:
    """Have the same input give the same plan: text kept in one way with or without pyarrow, no word from elsewhere."""
    with pd.option_context("mode.string_storage", "python"), offline():
        yield
