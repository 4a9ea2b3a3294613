"""Where the rows run: parallel lines through the block, cut by its edges and by exclusions."""

from typing import Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from wirerun.errors import SettingError
from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray, Frame
from wirerun.geometry.lines import IntArray, Pieces, cut_lines, from_row_axes, shorten, to_row_axes
from wirerun.geometry.station import Paths
from wirerun.ids import row_ids
from wirerun.settings import RowSettings

# The first row of a block may be numbered 1 to 10: the numbers hang on a fixed point, not on the leftmost corner, so
# that a row keeps its number when that corner is moved.
_NUMBER_STEP: Final = 10
_MARGIN_ARC_SEGMENTS: Final = 32


def lay_parallel(
    area: shapely.Geometry, workable: shapely.Geometry, frame: Frame, block_id: str, settings: RowSettings
) -> tuple[pd.DataFrame, Paths, list[Finding]]:
    """Straight rows at one bearing and spacing, one line per row, in order of number.

    Rows lie inside the workable area, at least the side margin from any edge; their ends keep the headland from the
    edge, measured along the row. An edge or an exclusion that cuts a line makes several rows of it: R012, R012b, ...
    Numbers run from the left as one looks along the bearing and belong to lines of a fixed lattice, so a dropped row
    leaves a gap and a far-away edit of the boundary renames nothing.

    Parameters
    ----------
    area, workable : Polygon or MultiPolygon
        The block, whole and less its exclusions, in plane metres.
    frame : Frame
        The block's frame; its origin carries the lattice unless an anchor is set.
    block_id : str
        Starts each row's id.
    settings : RowSettings
        Bearing, spacing, margins, least length, anchor.

    Returns
    -------
    rows : DataFrame
        row_id, block_id, line (lattice number), bearing_deg, length_m.
    paths : Paths
        The rows' lines in plane metres, in the order of `rows`.
    findings : list of Finding
        Rows dropped; no row at all.

    Raises
    ------
    SettingError
        If the anchor would give a row a number below 1.
    """
    bearing = _bearing(settings)
    numbers, across = _lattice(area, frame, settings)
    margin = workable.buffer(-settings.side_margin_m, quad_segs=_MARGIN_ARC_SEGMENTS)
    pieces = shorten(
        cut_lines(margin, across, bearing),
        cut_lines(workable, across, bearing),
        *settings.headlands_m,
    )
    length = pieces.end_m - pieces.start_m
    keep = length >= settings.min_length_m
    findings = _dropped(block_id, length, keep, settings)
    pieces = Pieces(pieces.line[keep], pieces.start_m[keep], pieces.end_m[keep])
    number = numbers[pieces.line]
    if len(number) and number.min() < 1:
        least = int(settings.anchor_row or 0) + 1 - int(number.min())
        place = f"rows.anchor_row = {settings.anchor_row}"
        raise SettingError(place, f"rows left of the anchor would fall below 1; set {least} or more")
    offset = across[pieces.line]
    start = np.column_stack(from_row_axes(pieces.start_m, offset, bearing))
    end = np.column_stack(from_row_axes(pieces.end_m, offset, bearing))
    rows = pd.DataFrame(
        {
            "row_id": row_ids(block_id, number),
            "block_id": block_id,
            "line": number,
            "bearing_deg": bearing,
            "length_m": pieces.end_m - pieces.start_m,
        }
    )
    return rows, Paths.straight(start, end), findings


def spacing_in_plan(
    block_id: str, settings: RowSettings, slope: tuple[float, float], heading: tuple[float, float]
) -> tuple[RowSettings, list[Finding]]:
    """Settings with the spacing in plan, where it was measured along the ground across the rows.

    Parameters
    ----------
    block_id : str
        For the finding.
    settings : RowSettings
        Spacing, and how it is measured.
    slope : (east, north)
        Mean slope of the block's ground: rise per metre of plan. [-]
    heading : (east, north)
        Unit vector along the rows.
    """
    if settings.spacing_measured == "horizontal":
        return settings, []
    across = abs(slope[0] * heading[1] - slope[1] * heading[0])
    plan = settings.spacing_m / float(np.hypot(1.0, across))
    found = Finding(
        "slope-spacing",
        block_id,
        f"Rows {settings.spacing_m:g} m apart along the ground are {plan:.3f} m apart in plan, by the block's mean "
        f"cross slope of {100.0 * across:.1f} %.",
    )
    return settings.model_copy(update={"spacing_m": plan}), [found]


def steep_rows(rows: pd.DataFrame, settings: RowSettings) -> list[Finding]:
    """Report rows steeper than the limit somewhere; `rows` has row_id, block_id and max_grade_pct."""
    steep = rows[rows["max_grade_pct"] > settings.steep_grade_pct]
    if steep.empty:
        return []
    return [
        Finding(
            "steep-row",
            str(steep["block_id"].iloc[0]),
            f"{len(steep)} row(s) are steeper than {settings.steep_grade_pct:g} % somewhere, up to "
            f"{steep['max_grade_pct'].max():.1f} %: {name_some(steep['row_id'])}.",
        )
    ]


def _bearing(settings: RowSettings) -> float:
    """Bearing of parallel rows [deg]; the config's rules see to it that there is one."""
    if settings.bearing_deg is None:
        msg = "rows.bearing_deg"
        raise SettingError(msg, "parallel rows need a bearing")
    return settings.bearing_deg


def _lattice(area: shapely.Geometry, frame: Frame, settings: RowSettings) -> tuple[IntArray, FloatArray]:
    """Number and offset across of every lattice line that meets the block."""
    corners = shapely.get_coordinates(area)
    _, across = to_row_axes(corners[:, 0], corners[:, 1], _bearing(settings))
    anchor = 0.0
    if settings.anchor_row is not None:
        x, y = frame.to_plane(np.array([settings.anchor_lon]), np.array([settings.anchor_lat]))
        anchor = float(to_row_axes(x, y, _bearing(settings))[1][0])
    first = int(np.ceil((across.min() - anchor) / settings.spacing_m))
    last = int(np.floor((across.max() - anchor) / settings.spacing_m))
    step = np.arange(first, last + 1)
    number_at_anchor = settings.anchor_row or 1 - first // _NUMBER_STEP * _NUMBER_STEP
    return step + number_at_anchor, np.asarray(anchor + step * settings.spacing_m)


def _dropped(
    block_id: str,
    length: FloatArray,
    keep: NDArray[np.bool_],
    settings: RowSettings,
) -> list[Finding]:
    if not keep.any():
        return [
            Finding(
                "no-rows",
                block_id,
                f"No row of at least {settings.min_length_m:g} m fits with a headland of {settings.headland_m:g} m and "
                f"a side margin of {settings.side_margin_m:g} m.",
            )
        ]
    short = length[~keep & (length > 0.0)]
    if not len(short):
        return []
    return [
        Finding(
            "rows-dropped",
            block_id,
            f"{len(short)} piece(s) of row shorter than {settings.min_length_m:g} m left out, "
            f"{short.sum():.1f} m in all.",
        )
    ]
