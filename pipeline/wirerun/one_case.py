"""The story of one case of a study: laid out and measured, or planned whole; what cases share is made once."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd
import shapely

from wirerun.all_blocks import plan_all
from wirerun.arrays import FloatArray, TextArray, words
from wirerun.clip_need import ClipNeed
from wirerun.errors import WirerunError
from wirerun.findings import Findings
from wirerun.geometry.places import PlaneXY
from wirerun.missing import what_failed
from wirerun.model.site import Site
from wirerun.model.study import BlockLayout, Case
from wirerun.one_block import as_they_stand
from wirerun.progress import Progress
from wirerun.records import Block, Drawn, Grid, Inputs, Plan
from wirerun.rules.clip_positions import clip_positions
from wirerun.rules.from_catalogue import driven_as_asked, take_from_catalogue
from wirerun.rules.row_grades import row_grades
from wirerun.rules.wire import run_out_m
from wirerun.settings import Catalogue, Config
from wirerun.settings.study import RowRule
from wirerun.stages.layout.boundary import set_out
from wirerun.stages.layout.ground import ground_above_chord
from wirerun.stages.layout.lay_out import lay_rows, stand_posts
from wirerun.stages.layout.post_heights import choose_posts
from wirerun.stages.layout.slopes import slopes_of
from wirerun.stages.study.judge import breaks
from wirerun.stages.study.measure import measured
from wirerun.stages.study.sun import Sky, sky_over, sun_hours
from wirerun.stages.wires.adjusters import choose_adjusters
from wirerun.stages.wires.end_give import end_give
from wirerun.stages.wires.let_down import kind_of_take_up
from wirerun.stages.wires.slack import lengths_to_move
from wirerun.stages.wires.strung import string_wires
from wirerun.tables import empty
from wirerun.tables.study import STUDY_ROWS

#: What of a config decides what is read for it.
ASKS_FOR: Final[Any] = {
    "block": True,
    "elevation": True,
    "rows": {"layout", "guide", "lines", "keep_ids"},
    "posts": {"placing", "points", "points_crs", "points_height_unit"},
    "standing": True,
    "catalogue": {"folder"},
    "stock": True,
    "machines": True,
    "measured": True,
    "map": True,
    "output": {"crs"},
    "blocks": True,
}
_ORIGIN: Final = PlaneXY(np.zeros(1), np.zeros(1))


class Laid(NamedTuple):
    """What came of laying a case out: its measures, its rows as `STUDY_ROWS` has them, broken shares, or why not."""

    measures: dict[str, float]
    rows: pd.DataFrame
    broken: dict[str, tuple[int, float]]
    failed: str


class Planned(NamedTuple):
    """What came of planning a case whole: the measures that need it, or why not."""

    measures: dict[str, float]
    failed: str


class Bench:
    """What cases share: inputs are read, and blocks set out, once for all configs that ask for the same.

    Parameters
    ----------
    read : callable
        Reads what a config needs.
    within : callable
        Gives the context that all work is done in, here and in other processes.
    rules : tuple of RowRule
        What rows are held against.
    block : str or None
        The only block that is looked at.
    """

    def __init__(
        self,
        read: Callable[[Config], Inputs],
        within: Callable[[], AbstractContextManager[None]],
        rules: tuple[RowRule, ...],
        block: str | None,
    ) -> None:
        self._read, self._within, self._rules, self._block = read, within, rules, block
        self._inputs: dict[str, Inputs] = {}
        self._sites: dict[tuple[str, float, int], Site] = {}
        self._sky: Sky | None = None

    def __getstate__(self) -> dict[str, Any]:
        """Return what goes to another process: what was read, not what was made of it."""
        return self.__dict__ | {"_sites": {}}

    def prepare(self, config: Config) -> None:
        """Read the inputs and find the sun, once, and not in every process.

        Raises
        ------
        SettingError
            If a day is none, or the library for the sun is not here.
        """
        inputs, dates = self.inputs(config), config.study.sun_dates
        if dates:
            middle = shapely.union_all([block.area for block in inputs.blocks]).centroid
            self._sky = sky_over(middle.x, middle.y, dates)

    def inputs(self, config: Config) -> Inputs:
        """Return what a config needs, read before where only other settings differ."""
        asked = config.model_dump_json(include=ASKS_FOR)
        if asked not in self._inputs:
            self._inputs[asked] = self._only(self._read(config))
        return self._inputs[asked]

    def _only(self, inputs: Inputs) -> Inputs:
        if self._block is None:
            return inputs
        at = [at for at, block in enumerate(inputs.blocks) if block.block_id == self._block]
        missing = tuple(block for block in inputs.missing if block.block_id == self._block)
        return replace(
            inputs,
            blocks=tuple(inputs.blocks[one] for one in at),
            grids=tuple(inputs.grids[one] for one in at),
            drawn=tuple(inputs.drawn[one] for one in at),
            missing=missing,
        )

    def lay(self, case: Case) -> Laid:
        """Return the measures that layout and wires tell, as a plan of the case has them."""
        config = case.config
        try:
            with self._within():
                blocks = [one for one in self._blocks(config) if one is not None]
        except Exception as error:  # noqa: BLE001 - whatever it is, the other cases are laid out
            said = str(error) if isinstance(error, WirerunError) else what_failed(error)
            return Laid({}, empty(STUDY_ROWS), {}, said)
        measures = measured(blocks, config.study.short_m, config.rows.steep_grade_pct) | self._sun(case, blocks)
        broken = {}
        for rule in self._rules:
            which = [breaks(rule, block.grades) for block in blocks]
            metres = sum(float(block.length_m[one].sum()) for block, one in zip(blocks, which, strict=True))
            whole = measures["row_length_m"]
            broken[rule.id] = (sum(int(one.sum()) for one in which), 100.0 * metres / whole if whole else np.nan)
        return Laid(measures, _row_table(case, blocks, self._rules), broken, "")

    def _sun(self, case: Case, blocks: Sequence[BlockLayout]) -> dict[str, float]:
        """Return the sun on the rows, by metres of row; nothing without dates."""
        settings = case.config.study
        rows = sum(float(block.length_m.sum()) for block in blocks)
        if self._sky is None or not rows:
            return {}
        total = np.zeros(2)
        for block in blocks:
            bearing, which = np.unique(np.round(block.bearing_deg % 180.0, 1), return_inverse=True)
            metres = np.bincount(which, weights=block.length_m)
            hours = [
                sun_hours(self._sky, one, block.spacing_m, settings.canopy_m, settings.canopy_width_m)
                for one in bearing.tolist()
            ]
            total += metres @ np.array(hours)
        return dict(zip(("sun_floor_h", "sun_side_h"), (total / rows).tolist(), strict=True))

    def plan(self, case: Case) -> Planned:
        """Return the measures that only a whole plan tells: it is planned as `wirerun plan` plans it."""
        try:
            with self._within():
                made = plan_all(self.inputs(case.config), case.config, Progress(), Plan)
        except WirerunError as error:
            return Planned({}, str(error))
        whole = made.costs.loc[made.costs["part"] == "sum", "total"]
        return Planned(
            {
                "two_way_posts": float(made.rows["two_way_posts"].sum()),
                "look_posts": float((made.posts["clip_need"] == ClipNeed.LOOK).sum()),
                "hours": float(made.zones["hours"].sum()),
                "cost": float(whole.iloc[0]) if len(whole) else np.nan,
                "warnings": float(made.findings["level"].isin(["warning", "error"]).sum()),
            },
            "; ".join(f"{block.block_id}: {block.reason}" for block in made.missing),
        )

    def outlines(self, case: Case) -> Iterator[FloatArray]:
        """Go through the rings of the blocks, in metres east and north of the first block's middle."""
        for east, north, site in self._placed(case.config):
            for polygon in shapely.get_parts(site.workable):
                for ring in (polygon.exterior, *polygon.interiors):
                    yield shapely.get_coordinates(ring) + np.array([east, north])

    def lines(self, case: Case) -> Iterator[FloatArray]:
        """Go through the rows of a case as laid, likewise: points along each."""
        inputs, placed = self.inputs(case.config), self._placed(case.config)
        for block, drawn, (east, north, site) in zip(inputs.blocks, inputs.drawn, placed, strict=True):
            own = case.config.for_block(block.block_id)
            paths = lay_rows(site, drawn, block.block_id, own, Findings(block.block_id)).rows.paths
            points = paths.vertices.stacked() + np.array([east, north])
            yield from (points[first : last + 1] for first, last in zip(paths.first, paths.last, strict=True))

    def _placed(self, config: Config) -> list[tuple[float, float, Site]]:
        """Sites of the blocks, and how far east and north of the first one's middle each lies [m]."""
        inputs = self.inputs(config)
        sites = [self._site(*each, config) for each in zip(inputs.blocks, inputs.grids, strict=True)]
        at = [sites[0].frame.to_plane(site.frame.to_lonlat(_ORIGIN)) for site in sites]
        return [(float(place.x_m[0]), float(place.y_m[0]), site) for place, site in zip(at, sites, strict=True)]

    def _site(self, block: Block, grid: Grid, config: Config) -> Site:
        asked = (block.block_id, config.elevation.smoothing_m, id(grid))
        if asked not in self._sites:
            self._sites[asked] = set_out(block, grid, config.elevation.smoothing_m, Findings(block.block_id))
        return self._sites[asked]

    def _blocks(self, config: Config) -> Iterator[BlockLayout | None]:
        inputs = self.inputs(config)
        catalogue = driven_as_asked(inputs.catalogue, config)
        for block, grid, drawn in zip(inputs.blocks, inputs.grids, inputs.drawn, strict=True):
            own = take_from_catalogue(config.for_block(block.block_id), catalogue, Findings())
            yield _lay_block(block, self._site(block, grid, own), drawn, own, catalogue)


def _lay_block(block: Block, site: Site, drawn: Drawn, config: Config, catalogue: Catalogue) -> BlockLayout | None:
    """Rows, posts and wires of one block, by the same steps as a plan's; None where it has no row."""
    notes = Findings(block.block_id)
    named = lay_rows(site, drawn, block.block_id, config, notes)
    layout = stand_posts(named.rows, site, drawn, config, catalogue, notes)
    posts = layout.posts
    if posts is None or layout.ground is None:
        return None
    above = ground_above_chord(posts, layout.ground, config.posts.max_span_m)
    slopes = slopes_of(posts, site.ground, config.rows.spacing_m, config.work.slope_classes_pct)
    wires = config.wires
    strung, _ = string_wires(posts, above, wires, config.posts.least_clearance_m, notes)
    stand, out_m, _ = as_they_stand(posts, layout.surveyed, config)
    heights = choose_posts(posts, strung.clearance_m, config.posts, catalogue, notes, (stand, out_m))
    places = clip_positions(heights.out_m, config.clips, wires, posts.row, ~posts.is_end)
    give = end_give(posts, wires, config.posts)
    take_up_mm = kind_of_take_up(posts, above, strung.cut_m, give, places.parked(posts.first), config)
    slack = lengths_to_move(posts, strung.cut_m, give, wires, config.states, places)
    adjusters = choose_adjusters(posts.rows, take_up_mm, slack, config, notes)
    lines = np.array([wire.lines for wire in wires], dtype=np.int64)[:, None]
    return BlockLayout(
        block_id=block.block_id,
        row_id=posts.rows.row_id,
        length_m=posts.rows.length_m,
        bearing_deg=posts.rows.bearing_deg,
        grades=row_grades(posts, slopes),
        span_m=posts.dx_m,
        span_grade_pct=100.0 * np.abs(posts.rise_m / posts.dx_m),
        cross_pct=np.abs(slopes.cross_pct),
        posts=len(posts),
        adjusters=int((lines * adjusters.needed).sum()),
        left_out=len(layout.left_out.rows),
        wire_m=float(np.nansum(run_out_m(wires, strung.cut_m, adjusters.tail_m))),
        spacing_m=config.rows.spacing_m,
        ground_m2=site.workable.area,
    )


def _row_table(case: Case, blocks: Sequence[BlockLayout], rules: tuple[RowRule, ...]) -> pd.DataFrame:
    """Rows of all blocks, as `STUDY_ROWS` has them."""
    if not blocks:
        return empty(STUDY_ROWS)
    columns = [_row_columns(block, rules) for block in blocks]
    joined = {name: np.concatenate([of_block[name] for of_block in columns]) for name in columns[0]}
    return pd.DataFrame({"case": case.case_id, **joined})


def _row_columns(block: BlockLayout, rules: tuple[RowRule, ...]) -> dict[str, FloatArray | TextArray]:
    grades, broken = block.grades, np.full(len(block.row_id), "", dtype=object)
    for rule in rules:
        here = breaks(rule, grades)
        broken[here] = broken[here] + np.where(broken[here] == "", "", ", ") + rule.id
    return {
        "row_id": block.row_id,
        "block_id": np.full(len(block.row_id), block.block_id, dtype=object),
        "length_m": block.length_m,
        "grade_mean_pct": grades.mean_pct,
        "grade_max_pct": grades.max_pct,
        "slope_pct": grades.slope_pct,
        "run_m": grades.run_m,
        "run_grade_pct": grades.run_grade_pct,
        "breaks": words(list(broken)),
    }
