"""Rows and posts of one block, as they stand on the ground."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike, IntArray, TextArray
from wirerun.errors import ModelError
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.station import Paths, first_and_last
from wirerun.mechanics.supports import Supports
from wirerun.model.checks import require_finite, require_rows, require_shape
from wirerun.settings import MachineLimit


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows of one block, in order of place: from the side that numbers start at, pieces of one line along it.

    Attributes
    ----------
    block_id : str
    row_id : [row]
        Such as B01-R012.
    bearing_deg : [row]
        Clockwise from true north at the block's middle. [deg]
    length_m : [row], > 0
        Horizontal length from the first end post to the last. [m]
    paths : Paths
        Their lines on the plane, a line a row.
    given : [row] or None
        What the file of given rows says of each, as JSON.
    """

    block_id: str
    row_id: TextArray
    bearing_deg: FloatArray
    length_m: FloatArray
    paths: Paths
    given: TextArray | None = None

    def __post_init__(self) -> None:
        rows = (len(self.row_id),)
        require_shape(self, rows, bearing_deg=self.bearing_deg, length_m=self.length_m, paths=self.paths.length_m)
        if self.given is not None:
            require_shape(self, rows, given=self.given)
        require_finite(self, bearing_deg=self.bearing_deg, length_m=self.length_m)
        if len(set(self.row_id)) != len(self.row_id):
            msg = f"Rows.row_id of {self.block_id} has an id twice"
            raise ModelError(msg)

    def __len__(self) -> int:
        return len(self.row_id)

    def only(self, kept: BoolArray) -> "Rows":
        """Those rows for which `kept`, [row], is true."""
        return Rows(
            self.block_id,
            self.row_id[kept],
            self.bearing_deg[kept],
            self.length_m[kept],
            self.paths.only(kept),
            None if self.given is None else self.given[kept],
        )

    def taken(self, order: IntArray) -> "Rows":
        """The same rows in another order; `order`, [row], are their numbers."""
        return Rows(
            self.block_id,
            self.row_id[order],
            self.bearing_deg[order],
            self.length_m[order],
            self.paths.taken(order),
            None if self.given is None else self.given[order],
        )

    def called(self, row_id: TextArray) -> "Rows":
        """The same rows by other ids, [row]."""
        return replace(self, row_id=row_id)


@dataclass(frozen=True, slots=True, eq=False)
class NamedRows:
    """Rows of one block with their ids, and where these come from.

    Attributes
    ----------
    rows : Rows
    line : [row]
        Which line each is a piece of, as it was laid: from the left, from 0.
    origin : [row]
        "numbered", or beside an earlier plan "kept" or "new".
    moved_m : [row]
        Mean distance from the earlier row of the same id, where the two run side by side; NaN where there is none. [m]
    gone_id : [gone]
        Ids of earlier rows that are no longer there.
    gone : Paths
        Their lines, a line an id.
    """

    rows: Rows
    line: IntArray
    origin: TextArray
    moved_m: FloatArray
    gone_id: TextArray
    gone: Paths

    def __post_init__(self) -> None:
        require_shape(self, (len(self.rows),), line=self.line, origin=self.origin, moved_m=self.moved_m)
        require_shape(self, (len(self.gone_id),), gone=self.gone.length_m)


class Stations(NamedTuple):
    """Where posts stand along their rows.

    Attributes
    ----------
    row : [post]
        Row of each, never falling.
    station_m : [post]
        Distance along the row's line, growing within a row. [m]
    """

    row: IntArray
    station_m: FloatArray


@dataclass(frozen=True, eq=False)
class Posts:
    """Posts of one block, along their rows; every row has two at least.

    Attributes
    ----------
    rows : Rows
        The rows they stand in.
    row : [post]
        Row of each, 0, 1, 2 ..., never falling.
    post_id : [post]
        Such as B01-R012-P007.
    station_m : [post]
        Horizontal distance along the row's line from its first post. [m]
    place : PlaneXY, [post]
        Where they stand in the block's frame. [m]
    ground_m : [post]
        Height of the ground, smoothed along the row. [m]
    along_m : [post], rising within a row
        Horizontal distance along the wire, straight from post to post, from the row's first. [m]
    turn_rad : [post], >= 0
        Turn of the wire in plan; 0 at end posts. [rad]
    clip_shift_m : [post] or None
        How much higher than their heights all clips of the post are set; 0 at end posts. None: 0 everywhere. [m]
    """

    rows: Rows
    row: IntArray
    post_id: TextArray
    station_m: FloatArray
    place: PlaneXY
    ground_m: FloatArray
    along_m: FloatArray
    turn_rad: FloatArray
    clip_shift_m: FloatArray | None = None

    def __post_init__(self) -> None:
        require_rows(self, self.row, len(self.rows))
        posts = {"station_m": self.station_m, "ground_m": self.ground_m, "along_m": self.along_m}
        posts |= {"turn_rad": self.turn_rad, "x_m": self.place.x_m, "y_m": self.place.y_m}
        if self.clip_shift_m is not None:
            posts["clip_shift_m"] = self.clip_shift_m
        require_shape(self, self.row.shape, post_id=self.post_id, **posts)
        require_finite(self, **posts)
        lonely = np.flatnonzero(self.last == self.first)
        if len(lonely):
            msg = f"Posts: row {self.rows.row_id[lonely[0]]} has one post"
            raise ModelError(msg)
        if not (self.dx_m > 0.0).all():
            at = int(self.near[np.flatnonzero(~(self.dx_m > 0.0))[0]])
            msg = f"Posts.along_m does not rise from {self.post_id[at]} to the next"
            raise ModelError(msg)

    def __len__(self) -> int:
        return len(self.row)

    @property
    def block_id(self) -> str:
        """The block they stand in."""
        return self.rows.block_id

    @cached_property
    def first(self) -> IntArray:
        """First post of each row, [row]."""
        return first_and_last(self.row)[0]

    @cached_property
    def last(self) -> IntArray:
        """Last post of each row, [row]."""
        return first_and_last(self.row)[1]

    @cached_property
    def is_end(self) -> BoolArray:
        """Whether a post is an end post, [post]."""
        ends = np.zeros(len(self.row), dtype=np.bool_)
        ends[self.first] = ends[self.last] = True
        return ends

    @cached_property
    def middle(self) -> IntArray:
        """The intermediate posts."""
        return np.flatnonzero(~self.is_end)

    @cached_property
    def near(self) -> IntArray:
        """The post at the start of each span, [span]; the other is the next post."""
        return np.flatnonzero(np.diff(self.row) == 0)

    @cached_property
    def first_span(self) -> IntArray:
        """First span of each row, [row]: every row before it has one span less than posts."""
        return self.first - np.arange(len(self.rows))

    @cached_property
    def last_span(self) -> IntArray:
        """Last span of each row, [row]."""
        return self.last - 1 - np.arange(len(self.rows))

    @cached_property
    def taped_m(self) -> FloatArray:
        """What a tape on the ground, from post to post, reads from each row's first, [post] [m]."""
        chord = np.zeros(len(self.row))
        chord[self.near + 1] = np.hypot(self.dx_m, self.rise_m)
        along = np.cumsum(chord)
        return np.asarray(along - along[self.first[self.row]])

    @cached_property
    def dx_m(self) -> FloatArray:
        """Horizontal length of each span, [span] [m]."""
        return self.along_m[self.near + 1] - self.along_m[self.near]

    @cached_property
    def rise_m(self) -> FloatArray:
        """Height of the far post's ground above the near one's, [span] [m]."""
        return self.ground_m[self.near + 1] - self.ground_m[self.near]

    @cached_property
    def steepest_pct(self) -> FloatArray:
        """Steepest grade of a span of each row, without sign, [row] [%]."""
        return np.asarray(np.maximum.reduceat(100.0 * np.abs(self.rise_m / self.dx_m), self.first_span))

    @property
    def row_id(self) -> TextArray:
        """Id of the row of each post, [post]."""
        return self.rows.row_id[self.row]

    @cached_property
    def feet(self) -> Supports:
        """Where the posts meet the ground, as supports."""
        return Supports(self.along_m, self.ground_m, self.row)

    @cached_property
    def shift_m(self) -> FloatArray:
        """How much higher than their heights the clips of each post are set, [post] [m]."""
        return np.zeros(len(self)) if self.clip_shift_m is None else self.clip_shift_m

    def supports(self, end_height_m: FloatLike, height_m: FloatLike | None = None, *, in_clips: bool) -> Supports:
        """Supports of a wire at one height on the end posts and, where given, another on the intermediate ones [m].

        A height is one number, or one for each post. A wire in clips hangs where these are set, a stapled one at its
        height.
        """
        above = np.where(self.is_end, end_height_m, end_height_m if height_m is None else height_m)
        return self.feet.at_heights(self.ground_m + above + (self.shift_m if in_clips else 0.0))

    def shifted(self, shift_m: FloatArray) -> "Posts":
        """The same posts, their clips set so much higher than their heights, [post] [m]."""
        return replace(self, clip_shift_m=shift_m)


class RowGrades(NamedTuple):
    """How rows lie on the ground. Axis row.

    Attributes
    ----------
    mean_pct, max_pct : [row]
        Grade along the row without sign: mean by metres, steepest span. [%]
    slope_pct : [row]
        Mean slope of the ground at its posts, along and across together. [%]
    run_m, run_grade_pct : [row]
        Longest stretch that falls one way, along the slope, and its grade from top to foot. [m, %]
    """

    mean_pct: FloatArray
    max_pct: FloatArray
    slope_pct: FloatArray
    run_m: FloatArray
    run_grade_pct: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class LeftOut:
    """Rows that cannot be planned, and why each. Axis row is their own.

    Attributes
    ----------
    rows : Rows
    reason : [row]
    """

    rows: Rows
    reason: TextArray

    def __post_init__(self) -> None:
        require_shape(self, (len(self.rows),), reason=self.reason)


@dataclass(frozen=True, slots=True, eq=False)
class Bridges:
    """Where the ground was bridged over a hole.

    Attributes
    ----------
    width_m : [post]
        Width along the row of the hole bridged there; NaN where the ground is known. [m]
    error_m : [post]
        One-sigma error of the bridged height; NaN likewise. [m]
    length_m : [row]
        Length of the row over bridged holes. [m]
    """

    width_m: FloatArray
    error_m: FloatArray
    length_m: FloatArray

    def __post_init__(self) -> None:
        require_shape(self, self.width_m.shape, error_m=self.error_m)


@dataclass(frozen=True, slots=True, eq=False)
class PostHeights:
    """How tall the posts are, and which are bought.

    Attributes
    ----------
    out_m : [post]
        Height out of the ground. [m]
    item : [post]
        The post's name in the catalogue; None where none is long enough.
    """

    out_m: FloatArray
    item: TextArray


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Slope of the ground.

    Attributes
    ----------
    grade_pct, cross_pct : [post]
        Along the row, positive uphill, and across it, positive where the right-hand side is higher. NaN where a height
        is missing. [%]
    mean_pct : [row]
        Mean slope at the row's posts, along and across together. [%]
    slope_class : [row]
        Its class of the config; None where not known.
    """

    grade_pct: FloatArray
    cross_pct: FloatArray
    mean_pct: FloatArray
    slope_class: TextArray


@dataclass(frozen=True, slots=True, eq=False)
class MachineRows:
    """Slopes of every row as machines meet them, and which of the user's limits it passes.

    Attributes
    ----------
    limits : tuple of MachineLimit
        The user's.
    grade_pct : [row]
        Steepest grade of a span, without sign. [%]
    cross_pct, slope_pct : [row]
        What 95 % of its posts do not pass across the row, and whichever way; NaN where not known. [%]
    over : [limit, row]
        Whether the row passes the limit.
    """

    limits: tuple[MachineLimit, ...]
    grade_pct: FloatArray
    cross_pct: FloatArray
    slope_pct: FloatArray
    over: BoolArray

    def __post_init__(self) -> None:
        require_shape(self, self.grade_pct.shape, cross_pct=self.cross_pct, slope_pct=self.slope_pct)
        require_shape(self, (len(self.limits), len(self.grade_pct)), over=self.over)
