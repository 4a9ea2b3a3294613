"""What the wires of one block do, state by state."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, is_blank
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
class Lying:
    """How far foliage wires are out of the way, let down in one way; NaN for fixed wires.

    Attributes
    ----------
    clear : [wire, row]
        Share of the row's middle on which the wire is out of the way. [-]
    greatest_m : [wire, row]
        Greatest height of the wire above the ground there. [m]
    posts_up : [wire, row]
        Posts there at which it is not out of the way.
    """

    clear: FloatArray
    greatest_m: FloatArray
    posts_up: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.clear.shape, greatest_m=self.greatest_m, posts_up=self.posts_up)


@dataclass(frozen=True, slots=True, eq=False)
class Drop:
    """Foliage wires freed from all intermediate posts; NaN for fixed wires.

    Attributes
    ----------
    asked : [wire]
        Share of a row's middle on which the wire must be out of the way. [-]
    middle_m : [wire, row]
        Height of the freed wire above the ground at mid-row. [m]
    post_m : [wire, post]
        The same at each post. [m]
    freed, let_out : Lying
        With both ends fast, and let out by its take-up: the same where none is needed.
    take_up_mm : [wire, row]
        Length an adjuster must give to let the wire down; 0 where it drops by itself, and where it is parked. [mm]
    lacks_mm : [wire, row]
        The same where it is too little to be worth an adjuster; else 0. [mm]
    """

    asked: FloatArray
    middle_m: FloatArray
    post_m: FloatArray
    freed: Lying
    let_out: Lying
    take_up_mm: FloatArray
    lacks_mm: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.middle_m.shape,
            freed=self.freed.clear,
            let_out=self.let_out.clear,
            take_up_mm=self.take_up_mm,
            lacks_mm=self.lacks_mm,
        )
        require_shape(self, (len(self.middle_m), self.post_m.shape[1]), post_m=self.post_m)
        require_shape(self, self.middle_m.shape[:1], asked=self.asked)


@dataclass(frozen=True, slots=True, eq=False)
class Lift:
    """One foliage wire in one position that it is moved to.

    Attributes
    ----------
    wire : int
        Place on the wire axis.
    use : str
        "lifted", or "winter" where it is parked.
    height_m : float
        Height on the intermediate posts. [m]
    row : [lifted row]
        The rows in which the wire is moved there, as places on the row axis: all have an intermediate post.
    start_n, far_n : [lifted row]
        Tension at the first and the last post. [N]
    first_n, last_n : [lifted row]
        Load on the first and the last intermediate post. [N]
    least_n, greatest_n : [lifted row]
        Least and greatest load on a clip. [N]
    """

    wire: int
    use: str
    height_m: float
    row: IntArray
    start_n: FloatArray
    far_n: FloatArray
    first_n: FloatArray
    last_n: FloatArray
    least_n: FloatArray
    greatest_n: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Lifts:
    """All positions that wires are moved to, and the greatest load of any on each clip.

    Attributes
    ----------
    positions : tuple of Lift
    greatest_n : [wire, post]
        NaN for wires that are not lifted. [N]
    """

    positions: tuple[Lift, ...]
    greatest_n: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Slack:
    """What foliage wires are like to move by hand, their length kept; NaN where a wire has nowhere to go.

    Attributes
    ----------
    lifted_n, parked_n : [wire, row]
        Greatest tension in any position that it is lifted to, and parked for winter. [N]
    lift_mm, park_mm : [wire, row]
        Length to give so that the set tension is back there; 0 where it goes by hand. [mm]
    """

    lifted_n: FloatArray
    parked_n: FloatArray
    lift_mm: FloatArray
    park_mm: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.lifted_n.shape, parked_n=self.parked_n, lift_mm=self.lift_mm, park_mm=self.park_mm)


@dataclass(frozen=True, slots=True, eq=False)
class WaysDown:
    """How each foliage wire gets out of the way for winter, of `tables.WAYS_DOWN`; None for wires that stay up.

    Attributes
    ----------
    way : [wire, row]
        The way chosen.
    reason : [wire, row]
        Why, in words.
    """

    way: TextArray
    reason: TextArray

    def __post_init__(self) -> None:
        require_shape(self, self.way.shape, reason=self.reason)


@dataclass(frozen=True, slots=True, eq=False)
class Adjusters:
    """Which wires need an adjuster, and which kind; every line of a wire gets one.

    Attributes
    ----------
    down_mm : [wire, row]
        Length it must give for winter: to let the wire down, or to park it; 0 where none is needed, NaN for wires that
        stay up. [mm]
    lift_mm : [wire, row]
        Length it must give before the wire is lifted all the way; 0 where none is needed. [mm]
    take_up_mm : [wire, row]
        Length it must give in all: the greater of the two, or that for winter where no kind reaches the other. [mm]
    kind : [wire, row]
        Name of the kind; None where none is needed or none reaches.
    turns : [wire, row]
        Turns of a winding strainer's barrel for the whole take-up; NaN for other kinds.
    tail_m : [wire, row]
        Wire that the adjuster takes. [m]
    """

    down_mm: FloatArray
    lift_mm: FloatArray
    take_up_mm: FloatArray
    kind: TextArray
    turns: FloatArray
    tail_m: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.down_mm.shape,
            lift_mm=self.lift_mm,
            take_up_mm=self.take_up_mm,
            kind=self.kind,
            turns=self.turns,
            tail_m=self.tail_m,
        )

    @property
    def needed(self) -> BoolArray:
        """Whether the wire needs an adjuster, [wire, row]."""
        return np.asarray(self.take_up_mm > 0.0)

    @property
    def fitted(self) -> BoolArray:
        """Whether it gets one, [wire, row]."""
        return np.asarray(self.needed & ~is_blank(self.kind))


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
