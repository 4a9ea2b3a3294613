"""Work zones as areas."""

import numpy as np

from wirerun.arrays import IntArray
from wirerun.geometry.areas import strips
from wirerun.geometry.frame import Frame
from wirerun.geometry.shapes import ShapeArray
from wirerun.model.site import Area


def place_zones(zone: IntArray, lines: ShapeArray, workable: Area, spacing_m: float, frame: Frame) -> ShapeArray:
    """Work zones of one block in WGS 84, [zone]: the strips of their rows, a row spacing beyond the outer ones.

    Parameters
    ----------
    zone : [row]
        Number of each row's zone, from 0 in this block.
    lines : [row]
        The rows in WGS 84.
    workable : Polygon or MultiPolygon
        The block's workable ground, in plane metres.
    spacing_m : float
        Distance between rows. [m]
    frame : Frame
        The block's frame.
    """
    flat = np.array([frame.flatten(line) for line in lines], dtype=object)
    return frame.unflatten(np.array(strips(flat, zone, workable, spacing_m), dtype=object))
