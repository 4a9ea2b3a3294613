"""What the wires of one block do, state by state."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.errors import ModelError
from wirerun.model.checks import require_shape
from wirerun.state import IN_CLIPS, State


@dataclass(frozen=True, slots=True, eq=False)
class RowEnds:
    """Forces at the two end posts of every row.

    Attributes
    ----------
    start_n, far_n : [wire, row]
        Tension of one line at the first and the last post. [N]
    start_pull_n, far_pull_n : [wire, row]
        Horizontal pull of one line on the first and the last post. [N]
    """

    start_n: FloatArray
    far_n: FloatArray
    start_pull_n: FloatArray
    far_pull_n: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self, self.start_n.shape, far_n=self.far_n, start_pull_n=self.start_pull_n, far_pull_n=self.far_pull_n
        )


@dataclass(frozen=True, slots=True, eq=False)
class InState:
    """All wires of a block in one state; NaN for a wire that has no such state, as a fixed wire is never lifted.

    Attributes
    ----------
    state : State
    load_n : [wire, post]
        Load of one line on its clip: positive presses down, negative pulls up. NaN at end posts, and where the wire is
        free of its clips. [N]
    tension_n : [wire, post]
        Tension of one line at the post; NaN where `load_n` is. [N]
    ends : RowEnds
        Forces at the end posts.
    """

    state: State
    load_n: FloatArray
    tension_n: FloatArray
    ends: RowEnds

    def __post_init__(self) -> None:
        require_shape(self, self.load_n.shape, tension_n=self.tension_n)
        wires, rows = len(self.load_n), self.ends.start_n.shape[1]
        require_shape(self, (wires, rows), ends=self.ends.start_n)


@dataclass(frozen=True, eq=False)
class WireStates:
    """All wires of a block in all their states."""

    states: tuple[InState, ...]

    def __post_init__(self) -> None:
        if tuple(each.state for each in self.states) != tuple(State):
            msg = f"WireStates has {', '.join(each.state for each in self.states)}; all states in order are promised"
            raise ModelError(msg)
        for each in self.states:
            require_shape(each, self.states[0].load_n.shape, load_n=each.load_n)

    @classmethod
    def of(cls, states: Iterable[InState]) -> "WireStates":
        """States in the order of the axis, however given."""
        return cls(tuple(sorted(states, key=lambda each: each.state.axis)))

    def __getitem__(self, state: State) -> InState:
        return self.states[state.axis]

    @cached_property
    def load_n(self) -> FloatArray:
        """Load on every clip in the states in which it holds the wire, [wire, post, state of IN_CLIPS] [N]."""
        return np.stack([self[state].load_n for state in IN_CLIPS], axis=-1)

    @cached_property
    def tension_n(self) -> FloatArray:
        """Tension at every clip, [wire, post, state of IN_CLIPS] [N]."""
        return np.stack([self[state].tension_n for state in IN_CLIPS], axis=-1)


@dataclass(frozen=True, slots=True, eq=False)
class Strung:
    """All wires of a block as strung: lengths, and what a span looks like.

    Attributes
    ----------
    cut_m : [wire, row]
        Unstretched length of one line from end post to end post. [m]
    stretched_m, span_cut_m : [wire, span]
        Length of one line in a span, under tension and without. [m]
    sag_m : [wire, span]
        Sag below the chord at mid-span. [m]
    near_n, far_n : [wire, span]
        Tension at the near and at the far support. [N]
    clearance_m : [wire, span]
        Least height above the ground within the span. [m]
    """

    cut_m: FloatArray
    stretched_m: FloatArray
    span_cut_m: FloatArray
    sag_m: FloatArray
    near_n: FloatArray
    far_n: FloatArray
    clearance_m: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.stretched_m.shape,
            span_cut_m=self.span_cut_m,
            sag_m=self.sag_m,
            near_n=self.near_n,
            far_n=self.far_n,
            clearance_m=self.clearance_m,
        )
        require_shape(self, (len(self.stretched_m), self.cut_m.shape[1]), cut_m=self.cut_m)


@dataclass(frozen=True, slots=True, eq=False)
class StrainFrom:
    """From where to strain each wire, friction in its clips counted.

    Attributes
    ----------
    way : [wire, row]
        Of `mechanics.friction.ADVICE`.
    kept : [wire, row]
        Share of its tension that the wire keeps at the far end when strained from one. [-]
    far_n : [wire, row]
        Its tension there. [N]
    middle_post : [wire, row]
        Post at which a strainer in the middle belongs, as a place on the post axis.
    """

    way: TextArray
    kept: FloatArray
    far_n: FloatArray
    middle_post: IntArray

    def __post_init__(self) -> None:
        require_shape(self, self.way.shape, kept=self.kept, far_n=self.far_n, middle_post=self.middle_post)


@dataclass(frozen=True, slots=True, eq=False)
class TensionCheck:
    """What wires at their set tension show in the field. Axis temperature as in the config.

    Attributes
    ----------
    celsius : [temperature]
    side_force_n : float
    span_m : [row]
        Horizontal length of the span that is looked at, the middle one. [m]
    tension_n, sag_m, deflection_m : [wire, temperature, row]
        NaN where a wire hangs loose. [N, m, m]
    gauge_n, gauge_stuck_n : [wire, temperature, row]
        What the short gauge reads in that span where the wire slides in its clips, and where it sticks in them; NaN
        where it hangs loose, or where the span is too short for the gauge. [N]
    """

    celsius: FloatArray
    side_force_n: float
    span_m: FloatArray
    tension_n: FloatArray
    sag_m: FloatArray
    deflection_m: FloatArray
    gauge_n: FloatArray
    gauge_stuck_n: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class PostLoads:
    """What the wires ask of posts and knots, in the worst state.

    Attributes
    ----------
    uplift_n : [post]
        Greatest upward pull of all wires; NaN at end posts. [N]
    end_pull_n, end_moment_nm : [post]
        Greatest horizontal pull and moment about the ground; NaN at intermediate posts. [N, Nm]
    greatest_tension_n : [wire, row]
        Greatest tension at either end. [N]
    """

    uplift_n: FloatArray
    end_pull_n: FloatArray
    end_moment_nm: FloatArray
    greatest_tension_n: FloatArray
