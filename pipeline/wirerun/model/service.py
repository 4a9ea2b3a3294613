"""The trellis of one block in service: what bears on its wires, and what these ask of fixings, knots and posts."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray
from wirerun.model.checks import require_shape
from wirerun.service_state import ServiceState

#: What gives first at a fixing, as `Held.gives` counts them.
GIVES: Final = (
    "fastener",
    "clip lets go",
    "open clip, upwards",
    "open clip, sideways",
    "upside-down clip, downwards",
)
# Choice. [N]
_NO_PUSH_N: Final = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class ServicePlaces:
    """Where the wires are in service.

    Attributes
    ----------
    height_m : [wire, post]
        Height on the intermediate posts. [m]
    at_ends_m : [wire, post]
        Height on the end posts. [m]
    host : [wire, post]
        The wire whose clip holds it there: itself, or the one whose clip it is lifted into.
    lifted : [wire, row]
        Whether it is lifted there.
    """

    height_m: FloatArray
    at_ends_m: FloatArray
    host: IntArray
    lifted: BoolArray

    def __post_init__(self) -> None:
        require_shape(self, self.height_m.shape, at_ends_m=self.at_ends_m, host=self.host)


@dataclass(frozen=True, slots=True, eq=False)
class OnWires:
    """What bears on the wires in one state, by the line that bears most; all [wire, row] but for the last.

    Attributes
    ----------
    state : ServiceState
    down_n_per_m, side_n_per_m : [wire, row]
        Load on a metre of the line that bears most, beside its own weight. [N/m]
    beside_n_per_m : [wire, row]
        Load to the side on a metre of the wire's other lines. [N/m]
    push_n : [wire]
        Push of a machine on a line, at a post or between two. [N]
    """

    state: ServiceState
    down_n_per_m: FloatArray
    side_n_per_m: FloatArray
    beside_n_per_m: FloatArray
    push_n: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.down_n_per_m.shape, side_n_per_m=self.side_n_per_m, beside_n_per_m=self.beside_n_per_m)
        require_shape(self, self.down_n_per_m.shape[:1], push_n=self.push_n)


@dataclass(frozen=True, slots=True, eq=False)
class InService:
    """All wires of a block in one service state; NaN where a wire is not solved.

    Attributes
    ----------
    on : OnWires
        What bears on them.
    tension_n : [wire, row]
        Greatest tension of the line that bears most. [N]
    end_pull_n : [wire, row]
        Its greatest pull on an end post, along the row. [N]
    load_n, side_n : [wire, post]
        What that line asks of its fixing: down, negative up; and to the side. NaN at end posts. [N]
    post_side_n, post_moment_nm : [post]
        All lines of all wires to the side, and their moment about the ground. [N, Nm]
    post_pull_n, post_along_nm : [post]
        The same along the row; NaN at intermediate posts. [N, Nm]
    """

    on: OnWires
    tension_n: FloatArray
    end_pull_n: FloatArray
    load_n: FloatArray
    side_n: FloatArray
    post_side_n: FloatArray
    post_moment_nm: FloatArray
    post_pull_n: FloatArray
    post_along_nm: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.tension_n.shape, end_pull_n=self.end_pull_n)
        require_shape(self, self.load_n.shape, side_n=self.side_n)
        require_shape(
            self,
            self.load_n.shape[1:],
            post_side_n=self.post_side_n,
            post_moment_nm=self.post_moment_nm,
            post_pull_n=self.post_pull_n,
            post_along_nm=self.post_along_nm,
        )

    @property
    def is_pushed(self) -> BoolArray:
        """Whether a post is pushed to the side at all, beyond what rows bend that are as good as straight, [post]."""
        return np.asarray(self.post_side_n > _NO_PUSH_N)


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """Whether the planned fixings hold in one service state. [wire, post] each.

    Attributes
    ----------
    used : [wire, post]
        Load over what the fixing bears, by what gives first: above 1 it does not hold; NaN at end posts and where
        there is no fixing or no load. [-]
    gives : [wire, post]
        Which of `GIVES` that is.
    """

    used: FloatArray
    gives: IntArray

    def __post_init__(self) -> None:
        require_shape(self, self.used.shape, gives=self.gives)


@dataclass(frozen=True, slots=True, eq=False)
class Service:
    """The trellis in service.

    Attributes
    ----------
    edge : [row]
        Whether the row stands at a side of the block, in the whole wind.
    states : tuple of InService
        Those that the config gives numbers for, in the order of `ServiceState`.
    held : tuple of Held
        What holds in each.
    bears_nm : tuple of [post]
        Moment about the ground that the ground beside each post bears in each; NaN where no rule is chosen. [Nm]
    rule : [post]
        Which rule that is; None likewise.
    """

    edge: BoolArray
    states: tuple[InService, ...]
    held: tuple[Held, ...]
    bears_nm: tuple[FloatArray, ...]
    rule: TextArray
