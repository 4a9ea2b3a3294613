"""Where the rows run: parallel lines through the block, cut by its edges and by exclusions."""

import string
from typing import Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from pipeline.errors import SettingError
from pipeline.findings import Finding
from pipeline.geometry.frame import FloatArray, Frame
from pipeline.geometry.lines import IntArray, Pieces, cut_lines, from_row_axes, shorten, to_row_axes
from pipeline.geometry.station import Paths
from pipeline.settings import RowSettings

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
    numbers, across = _lattice(area, frame, settings)
    margin = workable.buffer(-settings.side_margin_m, quad_segs=_MARGIN_ARC_SEGMENTS)
    pieces = shorten(
        cut_lines(margin, across, settings.bearing_deg),
        cut_lines(workable, across, settings.bearing_deg),
        settings.headland_m,
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
    start = np.column_stack(from_row_axes(pieces.start_m, offset, settings.bearing_deg))
    end = np.column_stack(from_row_axes(pieces.end_m, offset, settings.bearing_deg))
    rows = pd.DataFrame(
        {
            "row_id": _row_ids(block_id, number),
            "block_id": block_id,
            "line": number,
            "bearing_deg": settings.bearing_deg,
            "length_m": pieces.end_m - pieces.start_m,
        }
    )
    return rows, Paths.straight(start, end), findings


def _lattice(area: shapely.Geometry, frame: Frame, settings: RowSettings) -> tuple[IntArray, FloatArray]:
    """Number and offset across of every lattice line that meets the block."""
    corners = shapely.get_coordinates(area)
    _, across = to_row_axes(corners[:, 0], corners[:, 1], settings.bearing_deg)
    anchor = 0.0
    if settings.anchor_row is not None:
        x, y = frame.to_plane(np.array([settings.anchor_lon]), np.array([settings.anchor_lat]))
        anchor = float(to_row_axes(x, y, settings.bearing_deg)[1][0])
    first = int(np.ceil((across.min() - anchor) / settings.spacing_m))
    last = int(np.floor((across.max() - anchor) / settings.spacing_m))
    step = np.arange(first, last + 1)
    number_at_anchor = settings.anchor_row or 1 - first // _NUMBER_STEP * _NUMBER_STEP
    return step + number_at_anchor, np.asarray(anchor + step * settings.spacing_m)


def _row_ids(block_id: str, number: IntArray) -> list[str]:
    """Ids of rows ordered by line: the second piece of a line gets a b, the third a c."""
    piece = pd.Series(number).groupby(number).cumcount()
    return [f"{block_id}-R{n:03d}{_letter(p)}" for n, p in zip(number, piece, strict=True)]


def _letter(piece: int) -> str:
    if piece == 0:
        return ""
    return string.ascii_lowercase[piece] if piece < len(string.ascii_lowercase) else f"z{piece}"


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
