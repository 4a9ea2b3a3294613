"""Where the rows run: parallel lines through the block, cut by its edges and by exclusions."""

import numpy as np
import shapely

from wirerun.arrays import BoolArray, FloatArray
from wirerun.errors import SettingError
from wirerun.findings import Findings, name_some
from wirerun.geometry.lines import Pieces, cut_lines, from_row_axes, shorten, to_row_axes
from wirerun.geometry.margin import within_margin
from wirerun.geometry.places import LonLat
from wirerun.geometry.station import Paths
from wirerun.model.layout import NamedRows, Posts, Rows
from wirerun.model.site import Site
from wirerun.records import EarlierRows
from wirerun.settings import RowSettings
from wirerun.stages.layout.numbering import name_rows, nameless
from wirerun.wording import many


def lay_parallel(
    site: Site, block_id: str, settings: RowSettings, notes: Findings, earlier: EarlierRows | None = None
) -> NamedRows:
    """Straight rows at one bearing and spacing, one line per row.

    Rows lie inside the workable area, at least the side margin from any edge; their ends keep the headland from the
    edge, measured along the row. An edge or an exclusion that cuts a line makes several rows of it: R012, R012b, ...
    Their lines are a fixed lattice's, so that a far-away edit of the boundary moves no row.

    Parameters
    ----------
    site : Site
        The block; the origin of its frame carries the lattice unless an anchor is set.
    block_id : str
        Starts each row's id.
    settings : RowSettings
        Bearing, spacing, margins, least length, anchor, first row.
    notes : Findings
        Hears of rows dropped, of no row at all, and of ids kept.
    earlier : EarlierRows, optional
        The block's rows in the plan whose ids are kept.

    Raises
    ------
    SettingError
        If the rows have no first one on the side that the config names.
    """
    bearing = _bearing(settings)
    across = _lattice(site, settings)
    margin = within_margin(site.workable, settings.side_margin_m)
    pieces = shorten(
        cut_lines(margin, across, bearing),
        cut_lines(site.workable, across, bearing),
        *settings.headlands_m,
    )
    length = pieces.end_m - pieces.start_m
    keep = length >= settings.min_length_m
    _note_dropped(length, keep, settings, notes)
    pieces = Pieces(pieces.line[keep], pieces.start_m[keep], pieces.end_m[keep])
    offset = across[pieces.line]
    start = np.column_stack(from_row_axes(pieces.start_m, offset, bearing))
    end = np.column_stack(from_row_axes(pieces.end_m, offset, bearing))
    count = len(pieces.line)
    length_m = pieces.end_m - pieces.start_m
    rows = Rows(block_id, nameless(count), np.full(count, bearing), length_m, Paths.straight(start, end))
    return name_rows(rows, pieces.line, site.frame, settings, earlier, notes)


def spacing_in_plan(
    settings: RowSettings, slope: tuple[float, float], heading: tuple[float, float], notes: Findings
) -> RowSettings:
    """Settings with the spacing in plan, where it was measured along the ground across the rows.

    Parameters
    ----------
    settings : RowSettings
        Spacing, and how it is measured.
    slope : (east, north)
        Mean slope of the block's ground: rise per metre of plan. [-]
    heading : (east, north)
        Unit vector along the rows.
    notes : Findings
        Hears what the spacing is in plan.
    """
    if settings.spacing_measured == "horizontal":
        return settings
    across = abs(slope[0] * heading[1] - slope[1] * heading[0])
    plan = settings.spacing_m / float(np.hypot(1.0, across))
    notes.note(
        "slope-spacing",
        f"Rows {settings.spacing_m:g} m apart along the ground are {plan:.3f} m apart in plan, by the block's mean "
        f"cross slope of {100.0 * across:.1f} %.",
    )
    return settings.model_copy(update={"spacing_m": plan})


def note_steep_rows(posts: Posts, settings: RowSettings, notes: Findings) -> None:
    """Say which rows are steeper than the limit somewhere."""
    steepest = posts.steepest_pct
    steep = np.flatnonzero(steepest > settings.steep_grade_pct)
    if len(steep):
        notes.note(
            "steep-row",
            f"{many(len(steep), 'row', 'are')} steeper than {settings.steep_grade_pct:g} % somewhere, up to "
            f"{steepest[steep].max():.1f} %: {name_some(posts.rows.row_id[steep])}.",
        )


def _bearing(settings: RowSettings) -> float:
    """Bearing of parallel rows [deg]; the config's rules see to it that there is one."""
    if settings.bearing_deg is None:
        msg = "rows.bearing_deg"
        raise SettingError(msg, "parallel rows need a bearing")
    return settings.bearing_deg


def _lattice(site: Site, settings: RowSettings) -> FloatArray:
    """Offset across of every lattice line that meets the block, from the left."""
    corners = shapely.get_coordinates(site.area)
    _, across = to_row_axes(corners[:, 0], corners[:, 1], _bearing(settings))
    anchor = 0.0
    if settings.anchor_lon is not None:
        place = site.frame.to_plane(LonLat(np.array([settings.anchor_lon]), np.array([settings.anchor_lat])))
        anchor = float(to_row_axes(place.x_m, place.y_m, _bearing(settings))[1][0])
    first = int(np.ceil((across.min() - anchor) / settings.spacing_m))
    last = int(np.floor((across.max() - anchor) / settings.spacing_m))
    return np.asarray(anchor + np.arange(first, last + 1) * settings.spacing_m)


def _note_dropped(length: FloatArray, keep: BoolArray, settings: RowSettings, notes: Findings) -> None:
    short = length[~keep & (length > 0.0)]
    if not keep.any():
        notes.note(
            "no-rows",
            f"No row of at least {settings.min_length_m:g} m fits with a headland of {settings.headland_m:g} m and a "
            f"side margin of {settings.side_margin_m:g} m.",
        )
    elif len(short):
        notes.note(
            "rows-dropped",
            f"{many(len(short), 'piece')} of row shorter than {settings.min_length_m:g} m left out, {short.sum():.1f} "
            "m in "
            "all.",
        )
