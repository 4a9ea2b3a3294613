"""Blocks laid out and strung as far as measurements along their rows ask for, and the measurements placed in them."""

from dataclasses import dataclass

from wirerun.arrays import FloatArray
from wirerun.model.layout import Posts
from wirerun.model.wires import Strung
from wirerun.settings import Config


@dataclass(frozen=True, slots=True, eq=False)
class Stood:
    """A block's posts and its wires as strung; `above_m` is ground above the line between two posts' feet [m]."""

    config: Config
    posts: Posts
    above_m: FloatArray
    strung: Strung


@dataclass(frozen=True, slots=True)
class Spot:
    """Where something was read: the line of its file; block, row and wire by their places on the axes.

    `place` is the number of the span, or of the post, in its row, from 0.
    """

    at_line: int
    block: int
    row: int
    wire: int
    place: int
