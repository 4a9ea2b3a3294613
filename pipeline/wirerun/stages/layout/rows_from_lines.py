"""Rows that somebody drew: parallel to a guide line, or line by line."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import pandas as pd
import shapely

from wirerun.errors import SettingError
from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray, Frame
from wirerun.geometry.given import Cleaned, CutLines, clean_lines, cut_given
from wirerun.geometry.offsets import FollowReport, GuideError, follow_guide
from wirerun.geometry.station import Paths
from wirerun.ids import row_ids
from wirerun.settings import RowSettings

# The row on the guide has this number, so that rows on both sides have numbers above 0 and keep them.
_GUIDE_ROW: Final = 500
_MARGIN_ARC_SEGMENTS: Final = 32


def lay_follow(
    workable: shapely.Geometry, frame: Frame, guide: FloatArray, block_id: str, settings: RowSettings
) -> tuple[pd.DataFrame, Paths, list[Finding]]:
    """Rows at whole spacings from a guide line; R500 runs on it, numbers grow to its right as one walks along it.

    Parameters
    ----------
    workable : Polygon or MultiPolygon
        The block less its exclusions, in plane metres.
    frame : Frame
        The block's frame.
    guide : shape (n, 2)
        Longitude and latitude of the guide's vertices. [deg]
    block_id : str
        Starts each row's id.
    settings : RowSettings
        Spacing, margins, least length.

    Returns
    -------
    rows, paths, findings
        As `stages.rows.lay_parallel` has them; bearing_deg is that from a row's start to its end.

    Raises
    ------
    SettingError
        If the guide cannot be followed.
    """
    flat = np.column_stack(frame.to_plane(guide[:, 0], guide[:, 1]))
    try:
        curves, report = follow_guide(
            flat, workable, _within_margin(workable, settings), settings.spacing_m, *settings.headlands_m,
            settings.min_length_m,
        )  # fmt: skip
    except GuideError as error:
        lon, lat = frame.to_lonlat(np.array([error.x_m]), np.array([error.y_m]))
        place = "rows.guide"
        sentence = f"the guide cannot be followed: {error.message} at longitude {lon[0]:.6f}, latitude {lat[0]:.6f}"
        raise SettingError(place, sentence) from error
    number = np.array([curve.number for curve in curves], dtype=np.int64) + _GUIDE_ROW
    rows, paths = _table(block_id, number, [curve.xy for curve in curves])
    return rows, paths, _of_guide(block_id, report, settings, len(rows))


def lay_given(
    workable: shapely.Geometry,
    frame: Frame,
    lines: Sequence[FloatArray],
    attributes: Sequence[str],
    block_id: str,
    settings: RowSettings,
) -> tuple[pd.DataFrame, Paths, list[Finding]]:
    """Rows on given lines, cleaned, numbered from the left over the whole file, and cut to the block.

    Parameters
    ----------
    workable : Polygon or MultiPolygon
        The block less its exclusions, in plane metres.
    frame : Frame
        The block's frame.
    lines : sequence of arrays of shape (n, 2)
        Longitude and latitude of the lines' vertices. [deg]
    attributes : sequence of str
        What the file says of each line, as JSON.
    block_id : str
        Starts each row's id.
    settings : RowSettings
        Gap to join, margins, least length.

    Returns
    -------
    rows, paths, findings
        As `stages.rows.lay_parallel` has them; given_attributes is JSON of what the file says of the row.
    """
    flat = [np.column_stack(frame.to_plane(line[:, 0], line[:, 1])) for line in lines]
    cleaned = clean_lines(flat, settings.join_gap_m)
    cut = cut_given(
        cleaned.lines, _within_margin(workable, settings), workable, *settings.headlands_m, settings.min_length_m
    )
    rows, paths = _table(block_id, cut.pieces.line + 1, list(cut.paths))
    said = [f"[{', '.join(attributes[source] for source in cleaned.sources[line])}]" for line in cut.pieces.line]
    rows = rows.assign(given_attributes=pd.Series(said, dtype="str"))
    return rows, paths, [*_of_lines(block_id, cleaned), *_of_cut(block_id, cut, settings, len(rows))]


def _within_margin(workable: shapely.Geometry, settings: RowSettings) -> shapely.Geometry:
    return workable.buffer(-settings.side_margin_m, quad_segs=_MARGIN_ARC_SEGMENTS)


def _table(
    block_id: str, number: "np.ndarray[tuple[int], np.dtype[np.int64]]", lines: list[FloatArray]
) -> tuple[pd.DataFrame, Paths]:
    paths = Paths.from_lines(lines)
    east, north = paths.x_m[paths.last] - paths.x_m[paths.first], paths.y_m[paths.last] - paths.y_m[paths.first]
    rows = pd.DataFrame(
        {
            "row_id": pd.Series(row_ids(block_id, number), dtype="str"),
            "block_id": block_id,
            "line": number,
            "bearing_deg": np.degrees(np.arctan2(east, north)) % 360.0,
            "length_m": paths.length_m,
        }
    )
    return rows, paths


def _of_guide(block_id: str, report: FollowReport, settings: RowSettings, rows: int) -> list[Finding]:
    findings = []
    if not rows:
        findings.append(Finding("no-rows", block_id, "No row along the guide fits into the block."))
    if len(report.short_m):
        findings.append(_short(block_id, len(report.short_m), float(report.short_m.sum()), settings))
    if len(report.tight_m):
        findings.append(
            Finding(
                "guide-too-tight",
                block_id,
                f"The guide bends more tightly than {len(report.tight_m)} row(s) are away from it: "
                f"{report.tight_m.sum():.0f} m of guide have no row there, so as to make no loops.",
            )
        )
    if len(report.kink_number):
        numbers = sorted({int(number) + _GUIDE_ROW for number in report.kink_number})
        findings.append(
            Finding(
                "row-kink",
                block_id,
                f"Rows turn by up to {report.kink_turn_deg.max():.0f} degrees at one place where the guide bends "
                f"tightly, {len(report.kink_number)} place(s): {name_some(f'R{number}' for number in numbers)}.",
            )
        )
    return findings


def _of_lines(block_id: str, cleaned: Cleaned) -> list[Finding]:
    findings = []
    if cleaned.joined:
        widest = max(join.gap_m for join in cleaned.joined)
        sentence = f"{len(cleaned.joined)} pair(s) of given lines were joined across gaps of up to {widest:.2f} m."
        findings.append(Finding("lines-joined", block_id, sentence))
    if cleaned.duplicates:
        numbers = name_some(str(out + 1) for out, _ in cleaned.duplicates)
        sentence = f"{len(cleaned.duplicates)} given line(s) lie on another and were left out: feature {numbers}."
        findings.append(Finding("lines-doubled", block_id, sentence))
    if cleaned.reversed:
        sentence = f"{len(cleaned.reversed)} given line(s) were turned to run the same way as the rest."
        findings.append(Finding("lines-turned", block_id, sentence))
    if cleaned.meetings:
        pairs = name_some(f"{meeting.first + 1} and {meeting.second + 1}" for meeting in cleaned.meetings)
        sentence = f"{len(cleaned.meetings)} pair(s) of given rows cross or touch: number {pairs}."
        findings.append(Finding("lines-meet", block_id, sentence))
    return findings


def _of_cut(block_id: str, cut: CutLines, settings: RowSettings, rows: int) -> list[Finding]:
    findings = []
    if not rows:
        findings.append(Finding("no-rows", block_id, "No given line leaves a row in the block."))
    if cut.outside:
        sentence = f"{len(cut.outside)} given row(s) do not enter the block: number {_numbers(cut.outside)}."
        findings.append(Finding("lines-outside", block_id, sentence))
    if cut.lost:
        sentence = f"{len(cut.lost)} given row(s) enter the block but leave no row in it: number {_numbers(cut.lost)}."
        findings.append(Finding("lines-lost", block_id, sentence))
    if cut.dropped:
        findings.append(_short(block_id, cut.dropped, cut.dropped_m, settings))
    return findings


def _short(block_id: str, count: int, length_m: float, settings: RowSettings) -> Finding:
    sentence = f"{count} piece(s) of row shorter than {settings.min_length_m:g} m left out, {length_m:.1f} m in all."
    return Finding("rows-dropped", block_id, sentence)


def _numbers(indices: tuple[int, ...]) -> str:
    return name_some(str(index + 1) for index in indices)
