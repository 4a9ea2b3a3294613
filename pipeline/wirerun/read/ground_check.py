"""Whether a block's heights are those of bare ground: refused where no ground is like that, else told."""

import math
from dataclasses import replace

import numpy as np

from wirerun.arrays import BoolArray
from wirerun.errors import Faults
from wirerun.findings import Finding, name_some
from wirerun.geometry.bad_cells import CLIFF_RUN_M, cliff_limit, cliffs, rounded_to, spikes, stray_zeros
from wirerun.geometry.ridges import Ridges, find_ridges
from wirerun.geometry.seams import Seam, find_seam, seam_limit_m
from wirerun.read.cover import biggest_part
from wirerun.read.heights import cell_sides_m
from wirerun.read.polygons import GEOD, place_words
from wirerun.read.raster import HeightRaster
from wirerun.records import Block, Grid
from wirerun.settings import Config
from wirerun.wording import many, number

# By trials on canopies over real and made ground: no bare ground, berms or young vines were higher.
_SURELY_VINES_M = 0.20


def check_ground(
    raster: HeightRaster, ground: BoolArray, grid: Grid, block: Block, config: Config, faults: Faults
) -> list[Finding]:
    """Refuse zeros that are no heights, and cliffs; findings for spikes, seams, rounded heights and ridges as of vines.

    Parameters
    ----------
    raster, grid : HeightRaster, Grid
        The raster, and what was read of it.
    ground : shape of the grid
        Which cells have a height and lie in the block and outside its exclusions: nothing stands elsewhere.
    block : Block
        The block.
    config : Config
        As the block has it.
    faults : Faults
        Gets the faults.
    """
    looked = _Looked(raster, grid, ground, block)
    if not looked.ground.any():  # told by the cover
        return []
    # All round the block, too: where it lies in zeros as a whole, the others are there.
    zeros = stray_zeros(grid.heights_m, grid.valid)
    if zeros is not None:
        if (zeros & looked.ground).any():
            faults.add(raster.given, f"block {block.block_id}", looked.zeros(zeros))
        looked = _Looked(raster, replace(grid, valid=grid.valid & ~zeros), looked.ground & ~zeros, block)
    cliff = looked.cliffs()
    if cliff:
        faults.add(raster.given, f"block {block.block_id}", cliff)
    found = [
        ("ground-spikes", looked.spikes()),
        ("ground-seam", looked.seam(config)),
        ("ground-rounded", looked.rounded(config)),
        ("ground-ridges", looked.ridges(config.rows.spacing_m)),
    ]
    return [Finding(code, block.block_id, sentence) for code, sentence in found if sentence]


class _Looked:
    """The cells of one block that are looked at, and what there is to say of them: "" where all is well."""

    def __init__(self, raster: HeightRaster, grid: Grid, ground: BoolArray, block: Block) -> None:
        self.raster, self.grid, self.ground = raster, grid, ground
        middle = block.area.representative_point()
        self.sides_m = cell_sides_m(raster, middle.x, middle.y)

    def zeros(self, everywhere: BoolArray) -> str:
        zeros = everywhere & self.ground
        rows, columns = (np.flatnonzero(zeros.any(axis=axis)) for axis in (1, 0))
        count = np.count_nonzero(zeros)
        wide, high = (
            (along[-1] - along[0] + 1) * side for along, side in zip((columns, rows), self.sides_m, strict=True)
        )
        others = self.grid.heights_m[self.grid.valid & ~everywhere]
        _, (column, row) = biggest_part(zeros)
        return (
            f"{many(count, 'cell', 'are')} exactly 0 m high ({number(count * math.prod(self.sides_m), 1)} m2, within "
            f"{wide:.1f} m by {high:.1f} m, the biggest part round {self._words(column, row)}), "
            f"the ground round them {others.min():.1f} to {others.max():.1f} m; declare 0 as the raster's no-data "
            "number, or fill them"
        )

    def cliffs(self) -> str:
        bad = cliffs(self.grid.heights_m, self.ground, self.sides_m)
        if bad is None:
            return ""
        side = max(self.sides_m)
        return (
            f"the ground rises or falls by as much as {bad.worst_m:.1f} m within {max(side, CLIFF_RUN_M):.3g} m, at "
            f"{self._words(bad.column + 0.5, bad.row + 0.5)}; {many(bad.cells, 'pair')} of cells "
            f"{'is' if bad.cells == 1 else 'are'} over the limit of {cliff_limit(side):.3g} m; mend the raster there, "
            "or keep the place out (block.exclusions)"
        )

    def spikes(self) -> str:
        bad = spikes(self.grid.heights_m, self.grid.valid, self.ground, self.sides_m)
        if bad is None:
            return ""
        way = "above" if bad.worst_m > 0.0 else "below"
        worst = f"{abs(bad.worst_m):.2f} m {way} it at {self._words(bad.column + 0.5, bad.row + 0.5)}"
        return (
            f"{many(bad.cells, 'cell', 'stand')} off the ground on all sides, the worst {worst}: bushes, "
            "people or faults of the survey, and posts beside such get a wrong height; take them out of the raster, or "
            "keep the places out (block.exclusions)."
        )

    def seam(self, config: Config) -> str:
        accuracy, (wide, high) = config.elevation.accuracy_m, self.sides_m
        limit = seam_limit_m(accuracy, max(self.sides_m))
        found = find_seam(self.grid.heights_m, self.ground, limit)
        if found is None:
            return ""
        ends = [(at, found.at) if not found.along_columns else (found.at, at) for at in (found.start, found.stop)]
        length = (found.stop - found.start) * (high if found.along_columns else wide)
        tension, span = max(wire.tension_n for wire in config.wires), config.posts.max_span_m
        load = abs(found.step_m) * tension / span
        return (
            f"The ground steps by {abs(found.step_m):.2f} m along a straight line of {length:.0f} m, from "
            f"{self._words(*ends[0])} to {self._words(*ends[1])}, just along the raster's "
            f"{'columns' if found.along_columns else 'rows'}{self._tiles_at(found)}: a seam between tiles or flights, "
            f"and no ground. A wire at {tension:g} N over spans of {span:g} m bears {load:.0f} N "
            f"more or less on the clips beside it (limit {limit:.2f} m); have the survey adjusted in one go."
        )

    def _tiles_at(self, seam: Seam) -> str:
        """Return which tiles of the raster meet along a line, in words; "" where none do."""
        column, row = ~self.raster.transform * (self.grid.transform * (0, 0))
        at = seam.at + round(column if seam.along_columns else row)
        side = 0 if seam.along_columns else 1
        before = [one.tile.given for one in self.raster.tiles if one.box[side + 2] == at]
        behind = [one.tile.given for one in self.raster.tiles if one.box[side] == at]
        return f", where {name_some(before, 2)} and {name_some(behind, 2)} meet" if before and behind else ""

    def rounded(self, config: Config) -> str:
        step = rounded_to(self.grid.heights_m, self.ground, self.raster.unit.metres)
        if step is None:
            return ""
        # Evenly spread over the step; and the load of a taut wire on the middle one of three posts, their errors apart:
        # T/L (2 e - e' - e''), which has the sigma sqrt(6) T/L of one of them.
        sigma, accuracy = step / math.sqrt(12.0), config.elevation.accuracy_m
        tension, span = max(wire.tension_n for wire in config.wires), config.posts.max_span_m
        load, least = math.sqrt(6.0) * tension / span * sigma, math.ceil(1000.0 * math.hypot(accuracy, sigma)) / 1000.0
        return (
            f"Heights are rounded to {step:.3g} m, so each is off by {100.0 * sigma:.1f} cm (one sigma), which is "
            f"{load:.0f} N on a clip of a wire at {tension:g} N and spans of {span:g} m; take a raster of "
            f"finer heights, or set elevation.accuracy_m, now {accuracy:g}, to {least:g}."
        )

    def ridges(self, spacing_m: float) -> str:
        found = find_ridges(self.grid.heights_m, self.grid.valid, self.ground, self.sides_m, spacing_m)
        if found is None:
            return ""
        what = (
            "a surface with vines in it, not bare ground; take the bare-earth raster of the survey, or have "
            "`wirerun survey` make one of it"
            if found.height_m > _SURELY_VINES_M
            else "berms, young vines, or vines not wholly filtered out; see that it is bare ground"
        )
        return (
            f"Ridges {100.0 * found.height_m:.0f} cm high lie {found.spacing_m:.2f} m apart, as rows at "
            f"rows.spacing_m = {spacing_m:g} m do, at a bearing of {self._bearing(found):.0f} degrees, in "
            f"{100.0 * found.share:.0f} % of the block: {what}."
        )

    def _words(self, column: float, row: float) -> str:
        """Return a place of the grid in words."""
        return place_words(*self._lonlat(column, row))

    def _lonlat(self, column: float, row: float) -> tuple[float, float]:
        x, y = self.grid.transform * (column, row)
        lon, lat = self.raster.from_lonlat.transform(x, y, direction="INVERSE")
        return float(lon), float(lat)

    def _bearing(self, ridges: Ridges) -> float:
        """Bearing of ridges from true north, 0 to 180 [deg]."""
        rows, columns = self.grid.heights_m.shape
        right, down = (part / side for part, side in zip(ridges.along, self.sides_m, strict=True))
        here = self._lonlat(columns / 2.0, rows / 2.0)
        there = self._lonlat(columns / 2.0 + 10.0 * right, rows / 2.0 + 10.0 * down)
        return float(GEOD.inv(*here, *there)[0]) % 180.0
