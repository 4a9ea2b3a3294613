"""What the clips of one block must hold, and what holds the wires."""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray
from wirerun.model.checks import require_shape
from wirerun.state import IN_CLIPS


@dataclass(frozen=True, slots=True, eq=False)
class ClipPositions:
    """Places for clips; wires in the order given, posts likewise, places rising.

    Attributes
    ----------
    height_m : shape (places,)
        Height above the ground of every place at which a post may have a clip. [m]
    strung : shape (wires, posts, places)
        Whether the wire is strung there: at its own height, on every post.
    lifted, winter : shape (wires, posts, places)
        Whether it is lifted there, or parked there in winter, along its whole row.
    lent : shape (wires, posts, places)
        Whether the clip that it uses there is another wire's, which has gone up by then or is parked in it too.
    unused_m : shape (heights,)
        Regular positions on posts that no wire uses: no clip is set there. [m]
    """

    height_m: FloatArray
    strung: BoolArray
    lifted: BoolArray
    winter: BoolArray
    lent: BoolArray
    unused_m: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.strung.shape, lifted=self.lifted, winter=self.winter, lent=self.lent)
        require_shape(self, self.strung.shape[2:], height_m=self.height_m)

    @property
    def used(self) -> BoolArray:
        """Whether the wire uses the place at all, shape (wires, posts, places)."""
        return self.strung | self.lifted | self.winter

    @property
    def own(self) -> BoolArray:
        """Whether the clip at the place is bought for the wire, on each side that has a line of it; shape as `used`."""
        return self.used & ~self.lent

    def parked(self, post: IntArray) -> BoolArray:
        """Whether each wire is parked for winter on each of these posts, one a row; shape (wires, rows)."""
        return np.asarray(self.winter[:, post].any(axis=-1))

    @property
    def serves(self) -> BoolArray:
        """Whether a clip that is bought for the first wire holds the second too, shape (wires, wires, posts)."""
        return np.asarray(np.einsum("vps,wps->vwp", self.own, self.lent), dtype=np.bool_)

    def pieces(self, lines: IntArray) -> IntArray:
        """Clips bought for each wire on each post, shape (wires, posts).

        One for every line and place of its own; of a place that another wire lends it, those that are missing where it
        has more lines than that one. Wires strung at one height are on two sides of the post: what one of them has
        taken of a place is not there for the next.

        Parameters
        ----------
        lines : shape (wires,)
            Lines of each wire.
        """
        there = np.einsum("v,vps->ps", lines, self.own)
        beside = np.triu(np.einsum("vps,wps->vw", self.strung, self.strung) > 0, k=1)  # the first comes before
        taken = np.einsum("vw,v,vps->wps", beside, lines, self.used)
        missing = np.maximum(lines[:, None, None] - np.maximum(there - taken, 0), 0)
        own = lines[:, None] * self.own.sum(axis=2)
        return np.asarray(own + np.where(self.lent, missing, 0).sum(axis=2), dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Need:
    """Loads of all states taken together, and how sure it is that a clip must hold its wire down.

    NaN, or None, at end posts.

    Attributes
    ----------
    probability : [wire, post, state of IN_CLIPS]
        Probability that the wire pulls up by more than a one-way clip holds. [-]
    need : [wire, post]
        The same in the worst state. [-]
    certainty : [wire, post]
        Its word, one of `settings.CERTAINTY`.
    least_n, greatest_n : [wire, post]
        Least and greatest load over all states and lift positions. [N]
    side_n : [wire, post]
        Load to the side in a curved row, in the tightest state. [N]
    by_ground : [wire, post]
        As `need` if every clip were set exactly at its height: what a look at the ground can clear up. [-]
    bears_down : [wire, post]
        Probability that the wire bears down, in any state, by more than a one-way clip holds when it is mounted upside
        down. [-]
    """

    probability: FloatArray
    need: FloatArray
    certainty: TextArray
    least_n: FloatArray
    greatest_n: FloatArray
    side_n: FloatArray
    by_ground: FloatArray
    bears_down: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.need.shape,
            certainty=self.certainty,
            least_n=self.least_n,
            greatest_n=self.greatest_n,
            side_n=self.side_n,
            by_ground=self.by_ground,
            bears_down=self.bears_down,
        )
        require_shape(self, (*self.need.shape, len(IN_CLIPS)), probability=self.probability)


@dataclass(frozen=True, slots=True, eq=False)
class Sections:
    """Undulating sections: runs of posts in a row. Axis section, along the rows.

    Attributes
    ----------
    section_id : [section]
    first, last : [section]
        Posts at which a section begins and ends, as places on the post axis.
    start_m, end_m : [section]
        Stations half a span beyond them. [m]
    pull_up_n : [section]
        Greatest upward pull of one line on a clip. [N]
    grade_change_pct : [section]
        Greatest grade change at a post. [%]
    """

    section_id: TextArray
    first: IntArray
    last: IntArray
    start_m: FloatArray
    end_m: FloatArray
    pull_up_n: FloatArray
    grade_change_pct: FloatArray

    def __post_init__(self) -> None:
        require_shape(
            self,
            self.section_id.shape,
            first=self.first,
            last=self.last,
            start_m=self.start_m,
            end_m=self.end_m,
            pull_up_n=self.pull_up_n,
            grade_change_pct=self.grade_change_pct,
        )

    def __len__(self) -> int:
        return len(self.section_id)

    def at_posts(self, posts: int) -> IntArray:
        """Section of each post, [post]; -1 outside all."""
        edge = np.zeros(posts + 1, dtype=np.int64)
        edge[self.first] += np.arange(len(self)) + 1
        edge[self.last + 1] -= np.arange(len(self)) + 1
        return np.cumsum(edge)[:-1] - 1


@dataclass(frozen=True, slots=True, eq=False)
class Clips:
    """What holds each wire on each post, of `tables.CLIP_KINDS`, and on which side of it the wire sits, of `SEATS`.

    None at end posts, and where nothing is known.

    Attributes
    ----------
    kind, seat : [wire, post]
        As planned.
    look : [wire, post]
        Whether a one-way clip is planned where a two-way one is likely enough to be worth a look on site.
    kind_in, seat_in : [wire, post, state of IN_CLIPS]
        What the state alone asks for.
    """

    kind: TextArray
    seat: TextArray
    look: BoolArray
    kind_in: TextArray
    seat_in: TextArray

    def __post_init__(self) -> None:
        require_shape(self, self.kind.shape, seat=self.seat, look=self.look)
        require_shape(self, (*self.kind.shape, len(IN_CLIPS)), kind_in=self.kind_in, seat_in=self.seat_in)


@dataclass(frozen=True, slots=True, eq=False)
class Fixings:
    """Which fixing of the catalogue goes where. [wire, post] each; no pieces at end posts.

    Attributes
    ----------
    positions : [wire, post]
        Clip positions of the wire on the post.
    pieces : [wire, post]
        Positions times lines.
    item : [wire, post]
        The fixing's name in the catalogue; None where none suits.
    holds_n : [wire, post]
        Pull it may bear; NaN where none suits. [N]
    reason : [wire, post]
        Why this one, or why none.
    """

    positions: IntArray
    pieces: IntArray
    item: TextArray
    holds_n: FloatArray
    reason: TextArray

    def __post_init__(self) -> None:
        require_shape(
            self, self.positions.shape, pieces=self.pieces, item=self.item, holds_n=self.holds_n, reason=self.reason
        )


@dataclass(frozen=True, slots=True)
class FixingOption:
    """A set of fixings for the wires of one holder in one block, as a person compares it.

    Attributes
    ----------
    holder : str
        "clip" or "staple": which wires it is for.
    kinds : tuple of int
        The fixings, as places in the catalogue.
    pieces : tuple of int
        How many of each.
    unheld : tuple of int
        Posts at which none of them holds, in all; and those where the wire pulls most up, down, sideways.
    price : float
        Of the pieces and their fasteners; NaN where one has no price.
    hours : float
        Of one person, slope counted, walking not. [h]
    removal_hours : float
        The same to take them off again; NaN where not known. [h]
    cost : float
        Price and labour; NaN where one has no price.
    cost_per_year : float
        Cost of each kind over the years that it lasts; NaN where not known.
    chosen : bool
        Whether it is what the plan has.
    """

    holder: str
    kinds: tuple[int, ...]
    pieces: tuple[int, ...]
    unheld: tuple[int, ...]
    price: float
    hours: float
    removal_hours: float
    cost: float
    cost_per_year: float
    chosen: bool


@dataclass(frozen=True, slots=True)
class HoldDownOption:
    """Two-way clips of one block if one-way clips held so much.

    Attributes
    ----------
    hold_n : float
        Upward pull that a one-way clip still holds. [N]
    posts, pieces : int
        Posts with two-way clips, and such clips.
    planned : bool
        Whether the plan is made so.
    """

    hold_n: float
    posts: int
    pieces: int
    planned: bool


@dataclass(frozen=True, slots=True, eq=False)
class PostNeed:
    """What each post asks for.

    Attributes
    ----------
    ask : [post]
        Of `clip_need.ClipNeed`.
    reason : [post]
        Of `clip_need.REASONS`: the first that asks for a two-way clip there; None where none is planned.
    look_saves_min : [post]
        Minutes that a look on site is expected to save; NaN where none is worth its time. [min]
    """

    ask: TextArray
    reason: TextArray
    look_saves_min: FloatArray
