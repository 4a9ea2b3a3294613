"""Foliage wires as they are moved through the season: let down, lifted, parked, and by what."""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, is_blank
from wirerun.model.checks import require_shape


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
