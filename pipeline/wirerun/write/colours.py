"""The colours of map and layers: kept in one file that the map page reads too, and the ramp of the slope classes."""

import json
from importlib.resources import files
from typing import Any, Final

import numpy as np

_FILE: Final = files("wirerun.write") / "html_map" / "page" / "colours.json"
COLOURS: Final[dict[str, Any]] = json.loads(_FILE.read_text("utf-8"))


def rgb(colour: str) -> tuple[int, int, int]:
    """Red, green and blue, 0 to 255 each, of a colour such as "#d55e00"."""
    red, green, blue = bytes.fromhex(colour[1:])
    return red, green, blue


def slope_colours(count: int, *, paper: bool = False) -> list[str]:
    """So many colours from the flattest class to the steepest, each darker than the one before.

    Parameters
    ----------
    count : int
        How many classes there are.
    paper : bool
        Greys for black and white print.
    """
    anchors = np.array([rgb(colour) for colour in COLOURS["slope_paper" if paper else "slope"]], dtype=np.float64)
    places = np.linspace(0.0, len(anchors) - 1.0, count) if count > 1 else np.zeros(1)
    mixed = [np.interp(places, np.arange(len(anchors)), channel) for channel in anchors.T]
    return ["#" + bytes(round(value) for value in colour).hex() for colour in zip(*mixed, strict=True)]
