"""Everything that a plan reads, in one go, with every fault of every file told at once."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, Final

import shapely
from pyproj import CRS, Transformer

from wirerun.errors import Fault, Faults
from wirerun.findings import Finding, name_some
from wirerun.measurements import NOTHING, Measured
from wirerun.missing import MissingBlock
from wirerun.read.blocks import cut_out, read_blocks, read_exclusions
from wirerun.read.catalogue import read_catalogue
from wirerun.read.cover import block_cells, check_cover, tell_miss
from wirerun.read.crs import WGS84, DatumStep, crs_name, distortion, loose_steps, projected_crs, utm_crs
from wirerun.read.earlier import EarlierPlan, read_earlier
from wirerun.read.ground_check import check_ground
from wirerun.read.height_unit import Says
from wirerun.read.heights import cell_sides_m, on_raster, read_heights, window_of
from wirerun.read.job_size import fitting_blocks
from wirerun.read.library_errors import told
from wirerun.read.lines import check_near, read_guide, read_lines
from wirerun.read.machines import read_machine_limits
from wirerun.read.measured import read_measured
from wirerun.read.orthophoto import read_orthophoto
from wirerun.read.plain_file import source
from wirerun.read.points import GivenPoints, Stated, read_points
from wirerun.read.raster import HeightRaster, open_raster
from wirerun.read.standing import which_stand
from wirerun.read.stock import read_stock
from wirerun.read.vector import VectorFile
from wirerun.records import Block, Drawn, Grid, Inputs, Source, Stock, SurveyedPosts
from wirerun.settings import Catalogue, Config

# Choice: twenty times round the earth, in whatever unit of length.
_MOST_COORDINATE: Final = 1e9
# UTM is off by 0.04 % at a zone's middle and by 0.1 % at its edge: beyond that, a CRS is for other places (choice).
_MOST_DISTORTION: Final = 0.0015
_NO_ESTATE_STOCK: Final = (
    "an estate's blocks are ordered each by itself, and each would take the same stock; leave it out here, and plan "
    "the blocks together with wirerun plan, or take the stock off all/order.csv"
)


@dataclass(frozen=True, slots=True)
class Shared:
    """What is read once for all blocks of an estate: outlines, exclusions, prices, measurements, the CRS of all layers.

    `faults` are those of single blocks, `findings` what was noticed in files that all blocks share.
    """

    files: tuple[VectorFile, ...]
    blocks: tuple[Block, ...]
    findings: tuple[Finding, ...]
    faults: tuple[Fault, ...]
    catalogue: Catalogue
    price_lists: tuple[Source, ...]
    output_crs: str
    measured: Measured = NOTHING
    measured_in: tuple[Source, ...] = ()

    @property
    def block_ids(self) -> list[str]:
        """Return the ids of all blocks, those with a fault in their outline last."""
        return list(dict.fromkeys([*(block.block_id for block in self.blocks), *(f.block_id for f in self.faults)]))

    def only(self, block_id: str) -> "Shared":
        """Return what one block needs of it."""
        return replace(
            self,
            files=tuple(replace(file, features=(), values={}, refused={}) for file in self.files),
            blocks=tuple(block for block in self.blocks if block.block_id == block_id),
            faults=tuple(fault for fault in self.faults if fault.block_id == block_id),
        )


def read_shared(config: Config) -> Shared:
    """What all blocks of an estate have in common.

    Raises
    ------
    InputError
        With every fault, if one costs all blocks.
    """
    faults = Faults()
    files, blocks, findings = _read_ground(config, faults)
    _check_settings_of_blocks(config, blocks, faults)
    says = Says(config.elevation.height_unit, config.elevation.raster_crs)
    with open_raster(config.elevation.raster, config.folder, says, faults) as raster:
        if raster is not None:
            findings += raster.findings
            findings += _noticed_between(raster, blocks[0], files, config.posts.max_span_m) if blocks else []
        output = _output_crs(config, raster, blocks, faults, findings)
    catalogue, price_lists = read_catalogue(config.catalogue.folder, config.folder, faults)
    measured, notes_in = read_measured(config, faults)
    if config.stock.file is not None:
        faults.add(config.file, "stock.file", _NO_ESTATE_STOCK)
    if not blocks or not all(fault.block_id for fault in faults):
        faults.stop_if_any()
    return Shared(
        tuple(files), tuple(blocks), tuple(findings), tuple(faults), catalogue, price_lists, output, measured, notes_in
    )


def read_inputs(config: Config, shared: Shared | None = None, only: str = "") -> Inputs:
    """Blocks, their heights, the output CRS and the fingerprints of all files, checked.

    A fault that concerns one block alone costs that block alone; a fault of a file or of the config costs all.

    Parameters
    ----------
    config : Config
        As `load_config` returns it; paths start from its folder.
    shared : Shared, optional
        What was read before; then only the block named `only` is read.
    only : str
        Its id.

    Raises
    ------
    InputError
        With every fault, if one costs all blocks or none is left. Its exit code is that of missing elevation where
        nothing but the cover of the raster is at fault.
    """
    faults = Faults()
    if shared is None:
        files, blocks, findings = _read_ground(config, faults)
        _check_settings_of_blocks(config, blocks, faults)
    else:
        files, findings = list(shared.files), list(shared.findings)
        blocks = [block for block in shared.blocks if block.block_id == only]
        faults.found += [fault for fault in shared.faults if fault.block_id == only]
    blocks = fitting_blocks(blocks, config, faults)
    elevation = config.elevation
    grids: dict[str, Grid] = {}
    under: set[str] = set()
    says = Says(elevation.height_unit, elevation.raster_crs)
    with open_raster(elevation.raster, config.folder, says, faults) as raster:
        if raster is not None:
            findings += raster.findings
            for block in blocks:
                sentence = "the raster is damaged where the block lies: its cells cannot be read"
                own = faults.of_block(block.block_id)
                with told(own, raster.given, f"block {block.block_id}", sentence):
                    grid = _read_block(raster, block, config, own, findings, under)
                    if grid is not None:
                        grids[block.block_id] = grid
        missing = faults.by_block
        whole = [block for block in blocks if block.block_id not in missing]
        if raster is not None and blocks:
            findings += _noticed_between(raster, (whole or blocks)[0], files, config.posts.max_span_m)
        output = shared.output_crs if shared else _output_crs(config, raster, whole, faults, findings)
    drawn = _read_drawn(config, blocks, faults)
    measured = NOTHING  # of an estate: taken once for all blocks
    if shared is None:
        catalogue, price_lists = read_catalogue(config.catalogue.folder, config.folder, faults)
        measured, notes_in = read_measured(config, faults)
        stock, stock_files = read_store(config, catalogue, faults)
    else:
        notes_in, stock, stock_files = shared.measured_in, Stock.nothing(), ()
        catalogue, price_lists = shared.catalogue, shared.price_lists
        findings = [finding for finding in findings if finding not in shared.findings]
    limits, limit_files = read_machine_limits(config, faults)
    orthophoto, photo_files = read_orthophoto(config.map, config.folder, whole or blocks, faults)
    more_files = (*price_lists, *notes_in, *stock_files, *limit_files, *photo_files)
    sources = (*_sources(files, raster, under, faults), *drawn.sources, *more_files)
    if not whole or not all(fault.block_id for fault in faults):
        faults.stop_if_any()
    return Inputs(
        blocks=tuple(whole),
        grids=tuple(grids[block.block_id] for block in whole),
        drawn=tuple(drawn.of_block[block.block_id] for block in whole),
        missing=tuple(MissingBlock(block_id, own) for block_id, own in missing.items()),
        output_crs=output,
        catalogue=catalogue,
        sources=sources,
        findings=tuple(findings),
        orthophoto=orthophoto,
        measured=measured,
        stock=stock,
        machine_limits=limits,
    )


def read_store(config: Config, catalogue: Catalogue, faults: Faults) -> tuple[Stock, tuple[Source, ...]]:
    """Return what lies in the store, and the fingerprint of its file; nothing where the config names none."""
    if config.stock.file is None:
        return Stock.nothing(), ()
    return read_stock(config.stock.file, config.folder, catalogue, faults)


def _read_ground(config: Config, faults: Faults) -> tuple[list[VectorFile], list[Block], list[Finding]]:
    """Return the vector files that could be read, the good blocks with their exclusions, and what was noticed."""
    boundary, blocks, findings = read_blocks(config.block, config.folder, faults)
    files = [boundary] if boundary else []
    if config.block.exclusions is not None:
        exclusions = read_exclusions(config.block.exclusions, config.folder, faults)
        if exclusions is not None:
            files.append(exclusions)
            lost = bool(faults.by_block)
            blocks, noticed = cut_out(blocks, exclusions, config.block.boundary, faults)
            # Which exclusions touch a block that cannot be read, nobody knows.
            findings += [] if lost else noticed
    return files, blocks, findings


@dataclass(slots=True)
class _Drawings:
    """What was drawn for each block, and the files it came from, each read once."""

    of_block: dict[str, Drawn] = field(default_factory=dict)
    sources: list[Source] = field(default_factory=list)
    read: dict[tuple[str, str], Any] = field(default_factory=dict)

    def once(self, role: str, given: str, reading: Callable[[], Any], faults: Faults) -> Any:  # noqa: ANN401 - lines or points
        """Read a file for a role, or hand out what was read before."""
        if (role, given) not in self.read:
            self.read[role, given] = found = reading()
            if found is not None:
                self.sources.append(source(role, found.file.given, found.file.parts, faults))
        return self.read[role, given]


def _known(blocks: Sequence[Block], faults: Faults) -> list[str]:
    """Return the ids of the boundary's blocks, those with a fault last."""
    return list(dict.fromkeys([*(block.block_id for block in blocks), *faults.by_block]))


def _check_settings_of_blocks(config: Config, blocks: Sequence[Block], faults: Faults) -> None:
    """Tell of settings for blocks that the boundary does not have."""
    known = _known(blocks, faults)
    for unknown in sorted(set(config.blocks) - set(known)) if known else ():
        faults.add(config.file, f"blocks.{unknown}", f"the boundary has no such block; it has {', '.join(known)}")


def _read_drawn(config: Config, blocks: Sequence[Block], faults: Faults) -> _Drawings:
    """Return guides, lines and surveyed posts, as each block's own settings ask for them."""
    known = _known(blocks, faults)
    drawings, folder = _Drawings(), config.folder
    for block in blocks:
        own = config.for_block(block.block_id)
        rows, posts = own.rows, own.posts
        guide = lines = points = earlier = None
        if rows.keep_ids is not None:
            earlier = drawings.once(
                "earlier plan", rows.keep_ids, partial(read_earlier, rows.keep_ids, folder, faults), faults
            )
            _check_known(earlier, known, faults)
        if rows.layout == "follow" and rows.guide is not None:
            guide = drawings.once("guide", rows.guide, partial(read_guide, rows.guide, folder, faults), faults)
            if guide is not None:
                check_near(guide, block.block_id, block.area, faults)
        if rows.layout == "given" and rows.lines is not None:
            lines = drawings.once("rows", rows.lines, partial(read_lines, rows.lines, folder, faults), faults)
        if posts.placing == "given" and posts.points is not None:
            stated = Stated(posts.points_crs, posts.points_height_unit, config.file)
            points = drawings.once(
                "posts", posts.points, partial(read_points, posts.points, folder, faults, stated), faults
            )
        drawings.of_block[block.block_id] = Drawn(
            guide=guide.lines[0] if guide else None,
            lines=lines.lines if lines else (),
            attributes=tuple(_as_json(said) for said in lines.attributes) if lines else (),
            posts=_surveyed(points, own, faults) if points else None,
            earlier=earlier.rows_of(block.block_id) if earlier else None,
        )
    return drawings


def _surveyed(points: GivenPoints, config: Config, faults: Faults) -> SurveyedPosts:
    """Return surveyed posts, and which of them stand already."""
    stands = which_stand(points, config.standing, config.file, faults)
    return SurveyedPosts(points.lonlat, points.height_m, points.places, stands, points.out_m)


def _check_known(earlier: EarlierPlan | None, known: Sequence[str], faults: Faults) -> None:
    """Tell, once, of an earlier plan that has none of the blocks; one that lacks some is older than these."""
    if earlier is None or not earlier.of_block or set(earlier.of_block) & set(known):
        return
    theirs, ours = name_some(sorted(earlier.of_block)), name_some(known)
    sentence = f"the plan there is of other blocks ({theirs}); this one is of {ours}"
    if not any(fault.file == earlier.folder for fault in faults):
        faults.add(earlier.folder, "", sentence)


def _as_json(attributes: dict[str, Any]) -> str:
    return json.dumps(attributes, ensure_ascii=False, sort_keys=True)


def _read_block(
    raster: HeightRaster, block: Block, config: Config, faults: Faults, findings: list[Finding], under: set[str]
) -> Grid | None:
    """Return the heights round one block; None, with a fault, where there are too few. `under` gets the files read."""
    ground = on_raster(raster, block.area)
    if ground is None:
        tell_miss(raster, block, config.block.boundary, faults)
        return None
    window = window_of(raster, ground, block, config.elevation.smoothing_m).clipped(raster)
    under.update(placed.tile.given for placed in raster.under(window))
    grid, noticed = read_heights(raster, window, block, config.elevation.accuracy_m, faults)
    findings += noticed
    if grid is not None:
        cells = block_cells(raster, window, block)
        findings += check_cover(raster, cells, grid, block, config.elevation.least_cover_pct, faults)
        known = cells.inside
        known &= grid.valid  # in place: of a large block each such array takes 100 MB
        findings += check_ground(raster, known, grid, block, config.for_block(block.block_id), faults)
    return grid


def _noticed_between(
    raster: HeightRaster, block: Block, files: Sequence[VectorFile], max_span_m: float
) -> list[Finding]:
    """Return what the raster's cells are too coarse for, and datum steps that are not known well."""
    middle = block.area.representative_point()
    findings = []
    largest = max(cell_sides_m(raster, middle.x, middle.y))
    if largest > max_span_m / 2.0:
        sentence = (
            f"Cells of {largest:.3g} m are larger than half of posts.max_span_m = {max_span_m:g} m: "
            "ground that rises and falls between two posts is not seen."
        )
        findings.append(Finding("coarse-ground", raster.given, sentence))
    told: set[DatumStep] = set()
    for file in files:
        steps = [step for step in loose_steps(file.crs, raster.crs, middle.x, middle.y) if step not in told]
        findings += [Finding("crs-shift", file.given, _step_words(step, file.given)) for step in steps]
        told.update(steps)
    return findings


def _step_words(step: DatumStep, given: str) -> str:
    way = f"from {step.start} to {step.end}"
    if step.carried_over:
        return f"No transformation {way} is at hand; {given} was laid on the raster unshifted and may lie metres off."
    if step.accuracy_m is None:
        return f"Nobody states how well the step {way} is known; {given} may lie off on the raster."
    return f"The step {way} is known to {step.accuracy_m:g} m only; {given} may lie that far off on the raster."


def _sources(
    files: Sequence[VectorFile], raster: HeightRaster | None, under: set[str], faults: Faults
) -> tuple[Source, ...]:
    """Return role, path and fingerprint of every file; of a raster's tiles those under blocks, each sidecar too."""
    roles = zip(("boundary", "exclusions"), files, strict=False)
    found = [source(role, file.given, file.parts, faults) for role, file in roles]
    if raster is not None:
        found += [source("raster-list", given, [part], faults) for given, part in raster.listed_in]
        whole = [placed.tile for placed in raster.tiles]
        for tile in whole if len(whole) == 1 else [tile for tile in whole if tile.given in under]:
            found.append(source("raster", tile.given, [tile.file], faults))
            found += [source("raster-sidecar", given, [part], faults) for given, part in tile.sidecars]
    return tuple(found)


def _output_crs(
    config: Config,
    raster: HeightRaster | None,
    blocks: Sequence[Block],
    faults: Faults,
    findings: list[Finding],
) -> str:
    """Return the CRS of the GIS layers: the config's, else the raster's where projected, else the UTM zone."""
    wanted = projected_crs(config.output.crs) if config.output.crs is not None else None
    if isinstance(wanted, str):
        faults.add(config.file, "output.crs", wanted)
        return ""
    if not blocks or raster is None:
        return ""
    middle = shapely.union_all([block.area for block in blocks]).centroid
    crs = wanted or (raster.crs if raster.crs.is_projected else utm_crs(middle.x, middle.y))
    sentence = f'"{config.output.crs}" ({crs.name}) does not reach as far as the blocks'
    with told(faults, config.file, "output.crs", sentence):
        x, y = Transformer.from_crs(WGS84, crs, always_xy=True).transform(middle.x, middle.y)
        if not max(abs(x), abs(y)) < _MOST_COORDINATE:
            faults.add(config.file, "output.crs", sentence)
            return crs_name(crs)
        off = distortion(crs, middle.x, middle.y)
        if not abs(off) <= _MOST_DISTORTION:
            findings.append(Finding("distorting-crs", config.output.crs or raster.given, _distorted(crs, off)))
    return crs_name(crs)


def _distorted(crs: CRS, off: float) -> str:
    """Say by how much lengths in the layers are off, and what that does not concern."""
    longer = "longer" if off > 0.0 else "shorter"
    return (
        f"Lengths measured in the GIS layers are up to {abs(off):.1%} {longer} than on the ground: {crs.name} is not "
        "made for this place. All numbers of the plan are ground metres; set output.crs to a CRS of the region."
    )
