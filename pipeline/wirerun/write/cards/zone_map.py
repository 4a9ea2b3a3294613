"""The map of a zone: to a round scale, north up, its rows with their ends and two-way posts, the neighbours faint."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from wirerun.geometry.frame import Frame
from wirerun.geometry.places import LonLat
from wirerun.records import Plan
from wirerun.units import Units
from wirerun.write.cards.facts import ZoneFacts
from wirerun.write.cards.letters import BODY, SMALL, clean, width
from wirerun.write.cards.pen import BLACK, GREY, LEFT, RIGHT, WHITE, WIDTH, Pen, Xy
from wirerun.write.cards.sheets import Block
from wirerun.write.cards.symbols import draw_hatch_box, draw_north, draw_scale_bar, draw_square, triangle

_LEAST_HIGH: Final = 29.0
BORDER: Final = 11.0  # room for the rows' names round the zone
LEGEND_HIGH: Final = 11.0
SCALES: Final = tuple(int(step * 10**power) for power in range(2, 7) for step in (1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 7.5))
_NAME_HIGH: Final = 2.0
_HATCH: Final = 2.0  # from line to line, eastwards
_EDGE: Final = (2.5, 0.8, 0.5, 0.8)
_NEIGHBOUR: Final = (0.3, 1.7)  # dotted, so that rows of others are no hatching


#: What is drawn on the map: how wide its sign is [mm], the sign from a left end at half height, what it means.
MAP_MARKS: Final[tuple[tuple[float, Callable[[Pen, float, float], None], str], ...]] = (
    (1.5, lambda pen, x, y: draw_square(pen, (x + 0.75, y), filled=True), "first post"),
    (1.5, lambda pen, x, y: draw_square(pen, (x + 0.75, y), filled=False), "last post"),
    (0.7, lambda pen, x, y: pen.dots([(x + 0.35, y)], 0.35), "post"),
    (
        2.0,
        lambda pen, x, y: pen.lines([triangle((x + 1.0, y))], stroke=0.0, fill=BLACK, close=True),
        "two-way post",
    ),
    (6.0, lambda pen, x, y: pen.line((x, y), (x + 6.0, y), stroke=0.25, grey=GREY, dash=_EDGE), "block"),
    (5.0, lambda pen, x, y: draw_hatch_box(pen, x, y - 1.4, 5.0, 2.8), "keep out"),
    (5.0, lambda pen, x, y: pen.line((x, y), (x + 5.0, y), stroke=0.7, grey=GREY), "zone"),
    (5.0, lambda pen, x, y: pen.line((x, y), (x + 5.0, y), stroke=0.3), "row"),
    (6.0, lambda pen, x, y: pen.line((x, y), (x + 6.0, y), stroke=0.15, grey=GREY, dash=_NEIGHBOUR), "other rows"),
)


@dataclass(frozen=True)
class ZonePlace:
    """The places of a plan in the plane metres of one block's frame, and which rows are the zone's."""

    plan: Plan
    facts: ZoneFacts

    @property
    def block_id(self) -> str:
        """The block that the zone is in."""
        return str(self.facts.rows[0].row["block_id"])

    @property
    def row_ids(self) -> tuple[str, ...]:
        """The zone's rows, in the order of `rows`."""
        rows = (card.row for card in self.facts.rows)
        return tuple(row["row_id"] for row in rows if row["block_id"] == self.block_id)

    @cached_property
    def _frame(self) -> Frame:
        area = self.plan.blocks[self.plan.blocks["block_id"] == self.block_id].geometry
        height = {note.block_id: note.mean_height_m for note in self.plan.frames}.get(self.block_id, 0.0)
        return Frame.over(area.union_all() if len(area) else self.plan.rows.geometry.union_all(), height)

    def _flat(self, shapes: Any) -> Any:  # noqa: ANN401 - arrays of shapes
        return shapely.transform(
            np.asarray(shapes, dtype=object), lambda lonlat: self._frame.to_plane(LonLat.of(lonlat)).stacked()
        )

    @cached_property
    def rows(self) -> Any:  # noqa: ANN401 - an array of shapes
        """All rows of the block, as lines."""
        return self._flat(self.plan.rows.geometry[self.plan.rows["block_id"] == self.block_id])

    @cached_property
    def own(self) -> Any:  # noqa: ANN401 - an array of flags
        """Which of the rows are the zone's."""
        rows = self.plan.rows
        return rows.loc[rows["block_id"] == self.block_id, "row_id"].isin(self.row_ids).to_numpy(dtype=bool)

    @cached_property
    def outline(self) -> Any:  # noqa: ANN401 - an array of shapes
        """The zone's polygon, if the plan has it."""
        return self._flat(self.plan.zones.geometry[self.plan.zones["zone_id"] == self.facts.zone_id])

    @cached_property
    def block(self) -> Any:  # noqa: ANN401 - an array of shapes
        """The block's polygon."""
        return self._flat(self.plan.blocks.geometry[self.plan.blocks["block_id"] == self.block_id])

    @cached_property
    def exclusions(self) -> Any:  # noqa: ANN401 - an array of shapes
        """The keep-out areas of the block."""
        return self._flat(self.plan.exclusions.geometry[self.plan.exclusions["block_id"] == self.block_id])

    def posts(self, *, two_way: bool) -> Any:  # noqa: ANN401 - an array of places
        """Places of the zone's intermediate posts with, or without, a two-way clip, shape (n, 2) [m]."""
        places = []
        for card in self.facts.rows:
            held = {clip["post_id"] for clip in card.clips if clip["clip"] == "two-way"}
            inner = (post for post in card.posts if post["kind"] == "intermediate")
            places += [(post["lon"], post["lat"]) for post in inner if (post["post_id"] in held) == two_way]
        lon, lat = np.array(places, dtype=float).reshape(-1, 2).T
        return self._frame.to_plane(LonLat(lon, lat)).stacked()


def map_block(place: ZonePlace, room: float) -> Block | None:
    """Return the map as a block, in `room` [mm] if there is so much; None where no row has a place."""
    shapes = np.concatenate([place.rows[place.own], place.outline])
    if not len(shapes) or shapely.is_empty(shapes).all():
        return None
    west, south, east, north = shapely.total_bounds(shapes).tolist()
    wide, tall = WIDTH - 2.0 * BORDER, max(room - LEGEND_HIGH - 2.0, _LEAST_HIGH) - 2.0 * BORDER
    fits = (s for s in SCALES if (east - west) * 1e3 / s <= wide and (north - south) * 1e3 / s <= tall)
    scale = next(fits, SCALES[-1])
    high = (north - south) * 1e3 / scale + 2.0 * BORDER
    window = Window(scale, ((west + east) / 2.0, (south + north) / 2.0), high)

    def draw(pen: Pen, top: float) -> None:
        _draw_map(pen, place, window, top)
        pen.box(LEFT, top, WIDTH, high)
        _draw_legend(pen, scale, top + high + LEGEND_HIGH, place.facts.units)

    return Block(high + LEGEND_HIGH + 2.0, draw)


@dataclass(frozen=True, slots=True)
class Window:
    """What of the plane is shown: its scale, the middle [m], and the height on paper [mm]."""

    scale: int
    middle: Xy
    high: float

    def paper(self, places: Any, top: float) -> Any:  # noqa: ANN401 - an array of places
        """Places on paper [mm], shape (n, 2)."""
        mm = (np.asarray(places) - self.middle) * 1e3 / self.scale
        return np.column_stack([LEFT + WIDTH / 2.0 + mm[:, 0], top + self.high / 2.0 - mm[:, 1]])

    def clip(self, shapes: Any) -> list[Any]:  # noqa: ANN401 - an array of shapes
        """The shapes' single parts within the window."""
        x, y = self.middle
        half = WIDTH / 2.0 * self.scale / 1e3, self.high / 2.0 * self.scale / 1e3
        cut = shapely.clip_by_rect(shapes, x - half[0], y - half[1], x + half[0], y + half[1])
        parts = shapely.get_parts(cut)
        return [part for part in parts if not part.is_empty]


def _draw_map(pen: Pen, place: ZonePlace, window: Window, top: float) -> None:
    def paths(shapes: Any) -> list[Any]:  # noqa: ANN401 - an array of shapes
        return [window.paper(shapely.get_coordinates(shape), top).tolist() for shape in window.clip(shapes)]

    pen.lines(paths(shapely.boundary(place.block)), stroke=0.25, grey=GREY, dash=_EDGE)
    pen.lines(paths(place.rows[~place.own]), stroke=0.15, grey=GREY, dash=_NEIGHBOUR)
    draw_keep_out(pen, window, place.exclusions, top)
    pen.lines(paths(shapely.boundary(place.outline)), stroke=0.7, grey=GREY)
    pen.lines(paths(place.rows[place.own]), stroke=0.3)
    pen.dots(window.paper(place.posts(two_way=False), top).tolist(), 0.35)
    marks = [triangle((x, y)) for x, y in window.paper(place.posts(two_way=True), top).tolist()]
    pen.lines(marks, stroke=0.0, fill=BLACK, close=True)
    lines = [window.paper(shapely.get_coordinates(row), top) for row in place.rows[place.own]]
    frame = shapely.box(LEFT + 0.5, top + 0.5, RIGHT - 0.5, top + window.high - 0.5)
    _draw_names(pen, place.row_ids, lines, frame)
    for end in (-1, 0):
        for line in lines:
            draw_square(pen, line[end].tolist(), filled=end == 0)


def draw_keep_out(pen: Pen, window: Window, exclusions: Any, top: float) -> None:  # noqa: ANN401 - an array of shapes
    """Draw the areas to keep out of: hatched, with an edge."""
    for shapes, stroke, grey in (
        (_hatching(window.clip(exclusions), window.scale / 1e3), 0.15, GREY),
        (shapely.boundary(exclusions), 0.3, BLACK),
    ):
        lines = [window.paper(shapely.get_coordinates(shape), top).tolist() for shape in window.clip(shapes)]
        pen.lines(lines, stroke=stroke, grey=grey)


def _draw_names(pen: Pen, row_ids: tuple[str, ...], paths: list[Any], frame: BaseGeometry) -> None:
    """Name every row, or every so many rows if they lie too close, along the row and beyond one of its ends."""
    posts = [shapely.Point(path[end]).buffer(0.8) for path in paths for end in (0, -1)]
    for step in (1, 2, 5, 10, 20, 50):
        chosen = range(0, len(row_ids), step)
        names = _place_names([row_ids[row].rsplit("-", 1)[-1] for row in chosen], paths[::step], posts, frame)
        if len(names) == len(chosen):
            break
    for area, line, name in names:
        pen.lines([shapely.get_coordinates(area).tolist()], stroke=0.0, fill=WHITE, close=True)
        pen.slanted_text(line, name, SMALL)


def _place_names(
    names: list[str], paths: list[Any], posts: list[Any], frame: BaseGeometry
) -> list[tuple[BaseGeometry, tuple[Xy, Xy], str]]:
    """Return the names that find room, the area each takes, and the line it stands on from left to right."""
    taken: list[Any] = list(posts)
    placed: list[tuple[Any, tuple[Xy, Xy], str]] = []
    for name, path in zip(names, paths, strict=True):
        wide = width(clean(name), SMALL)
        for end, inner in ((0, 1), (-1, -2)):
            away = path[end] - path[inner]
            away = away / max(float(np.hypot(*away)), 1e-6)
            near, beyond = path[end] + 1.6 * away, path[end] + (1.6 + wide) * away
            area = shapely.LineString([near, beyond]).buffer(_NAME_HIGH / 2.0, cap_style="flat")
            if frame.covers(area) and not any(area.intersects(other) for other in taken):
                taken.append(area)
                left, right = sorted((near.tolist(), beyond.tolist()))
                placed.append((area, (left, right), name))
                break
    return placed


def _hatching(shapes: list[Any], m_per_mm: float) -> Any:  # noqa: ANN401 - an array of shapes
    """Lines at 45 degrees across the shapes."""
    if not shapes:
        return np.array([], dtype=object)
    west, south, east, north = shapely.total_bounds(shapes).tolist()
    tall = north - south
    start = np.arange(west - tall, east, _HATCH * m_per_mm)
    count = len(start)
    lines = shapely.linestrings(
        np.stack(
            [np.column_stack([start, np.full(count, south)]), np.column_stack([start + tall, np.full(count, north)])],
            axis=1,
        )
    )
    return shapely.intersection(lines, shapely.union_all(shapes))


def draw_foot_of_map(pen: Pen, scale: int, foot: float, units: Units) -> None:
    """Draw scale bar, scale and north arrow."""
    mm = units.far.metric * 1e3 / scale
    whole = next(step for step in (2000, 1000, 500, 200, 100, 50, 20, 10, 5, 2, 1) if step * mm <= 42.0)
    long = draw_scale_bar(pen, LEFT + 2.0, foot - 1.0, whole, mm, units.far.sign)
    pen.text(LEFT + long + 12.0, foot - 1.0, f"1:{scale}", BODY, bold=True)
    draw_north(pen, RIGHT - 3.0, foot - 0.6)
    pen.text(RIGHT - 6.5, foot - 1.0, "true north", SMALL, align="right")


def _draw_legend(pen: Pen, scale: int, foot: float, units: Units) -> None:
    """Draw scale bar, north arrow and what the marks are, on two lines."""
    draw_foot_of_map(pen, scale, foot, units)
    half = (len(MAP_MARKS) + 1) // 2
    for y, marks in ((foot - 6.0, MAP_MARKS[:half]), (foot - 1.0, MAP_MARKS[half:])):
        x = LEFT + 72.0
        for wide, mark, words in marks:
            mark(pen, x, y - 1.0)
            x += wide + 1.0 + pen.text(x + wide + 1.0, y, words, SMALL) + 3.5
