"""Rows that somebody drew: parallel to a guide line, or line by line."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from wirerun.arrays import FloatArray, IntArray, TextArray
from wirerun.errors import SettingError
from wirerun.findings import Findings, name_some
from wirerun.geometry.given import Cleaned, CutLines, clean_lines, cut_given
from wirerun.geometry.offsets import FollowReport, GuideError, follow_guide
from wirerun.geometry.places import LonLat, PlaneXY
from wirerun.geometry.station import Paths
from wirerun.ids import row_ids
from wirerun.model.layout import Rows
from wirerun.model.site import Area, Site
from wirerun.settings import RowSettings
from wirerun.wording import many

# The row on the guide has this number, so that rows on both sides have numbers above 0 and keep them.
_GUIDE_ROW: Final = 500
_MARGIN_ARC_SEGMENTS: Final = 32


def lay_follow(site: Site, guide: FloatArray, block_id: str, settings: RowSettings, notes: Findings) -> Rows:
    """Rows at whole spacings from a guide line; R500 runs on it, numbers grow to its right as one walks along it.

    Parameters
    ----------
    site : Site
        The block.
    guide : shape (n, 2)
        Longitude and latitude of the guide's vertices. [deg]
    block_id : str
        Starts each row's id.
    settings : RowSettings
        Spacing, margins, least length.
    notes : Findings
        Hears of rows dropped, kinks, and where there are no rows.

    Returns
    -------
    Rows
        Their bearing is that from start to end.

    Raises
    ------
    SettingError
        If the guide cannot be followed.
    """
    flat = site.frame.to_plane(LonLat.of(guide)).stacked()
    try:
        curves, report = follow_guide(
            flat, site.workable, _within_margin(site.workable, settings), settings.spacing_m, *settings.headlands_m,
            settings.min_length_m,
        )  # fmt: skip
    except GuideError as error:
        at = site.frame.to_lonlat(PlaneXY(np.array([error.x_m]), np.array([error.y_m])))
        where = f"longitude {at.lon[0]:.6f}, latitude {at.lat[0]:.6f}"
        place = "rows.guide"
        raise SettingError(place, f"the guide cannot be followed: {error.message} at {where}") from error
    number = np.array([curve.number for curve in curves], dtype=np.int64) + _GUIDE_ROW
    rows = _rows(block_id, number, [curve.xy for curve in curves])
    _note_guide(report, settings, len(rows), notes)
    return rows


def lay_given(
    site: Site,
    lines: Sequence[FloatArray],
    attributes: Sequence[str],
    block_id: str,
    settings: RowSettings,
    notes: Findings,
) -> Rows:
    """Rows on given lines, cleaned, numbered from the left over the whole file, and cut to the block.

    Parameters
    ----------
    site : Site
        The block.
    lines : sequence of arrays of shape (n, 2)
        Longitude and latitude of the lines' vertices. [deg]
    attributes : sequence of str
        What the file says of each line, as JSON.
    block_id : str
        Starts each row's id.
    settings : RowSettings
        Gap to join, margins, least length.
    notes : Findings
        Hears what was cleaned, left out and lost.
    """
    flat = [site.frame.to_plane(LonLat.of(line)).stacked() for line in lines]
    cleaned = clean_lines(flat, settings.join_gap_m)
    cut = cut_given(
        cleaned.lines,
        _within_margin(site.workable, settings),
        site.workable,
        *settings.headlands_m,
        settings.min_length_m,
    )
    said = [f"[{', '.join(attributes[source] for source in cleaned.sources[line])}]" for line in cut.pieces.line]
    rows = _rows(block_id, cut.pieces.line + 1, list(cut.paths), np.array(said, dtype=object))
    _note_lines(cleaned, notes)
    _note_cut(cut, settings, len(rows), notes)
    return rows


def _within_margin(workable: Area, settings: RowSettings) -> Area:
    return workable.buffer(-settings.side_margin_m, quad_segs=_MARGIN_ARC_SEGMENTS)


def _rows(block_id: str, number: IntArray, lines: list[FloatArray], given: TextArray | None = None) -> Rows:
    paths = Paths.from_lines(lines)
    east, north = paths.x_m[paths.last] - paths.x_m[paths.first], paths.y_m[paths.last] - paths.y_m[paths.first]
    ids = np.array(row_ids(block_id, number), dtype=object)
    return Rows(block_id, ids, np.degrees(np.arctan2(east, north)) % 360.0, paths.length_m, paths, given)


def _note_guide(report: FollowReport, settings: RowSettings, rows: int, notes: Findings) -> None:
    if not rows:
        notes.note("no-rows", "No row along the guide fits into the block.")
    if len(report.short_m):
        _note_short(len(report.short_m), float(report.short_m.sum()), settings, notes)
    if len(report.tight_m):
        notes.note(
            "guide-too-tight",
            f"The guide bends more tightly than {many(len(report.tight_m), 'row', 'are')} away from it: "
            f"{report.tight_m.sum():.0f} m of guide have no row there, so as to make no loops.",
        )
    if len(report.kink_number):
        numbers = sorted({int(number) + _GUIDE_ROW for number in report.kink_number})
        notes.note(
            "row-kink",
            f"Rows turn by up to {report.kink_turn_deg.max():.0f} degrees at one place where the guide bends tightly, "
            f"{many(len(report.kink_number), 'place')}: {name_some(f'R{number}' for number in numbers)}.",
        )


def _note_lines(cleaned: Cleaned, notes: Findings) -> None:
    if cleaned.joined:
        widest = max(join.gap_m for join in cleaned.joined)
        sentence = f"{many(len(cleaned.joined), 'pair')} of given lines joined across gaps of up to {widest:.2f} m."
        notes.note("lines-joined", sentence)
    if cleaned.duplicates:
        numbers = name_some(str(out + 1) for out, _ in cleaned.duplicates)
        sentence = f"{many(len(cleaned.duplicates), 'given line', 'lie')} on another; left out: feature {numbers}."
        notes.note("lines-doubled", sentence)
    if cleaned.reversed:
        sentence = f"{many(len(cleaned.reversed), 'given line', 'were')} turned to run the same way as the rest."
        notes.note("lines-turned", sentence)
    if cleaned.meetings:
        pairs = name_some(f"{meeting.first + 1} and {meeting.second + 1}" for meeting in cleaned.meetings)
        notes.note(
            "lines-meet", f"{many(len(cleaned.meetings), 'pair')} of given rows crossing or touching: number {pairs}."
        )


def _note_cut(cut: CutLines, settings: RowSettings, rows: int, notes: Findings) -> None:
    if not rows:
        notes.note("no-rows", "No given line leaves a row in the block.")
    if cut.outside:
        sentence = f"{many(len(cut.outside), 'given row', 'do not')} enter the block: number {_numbers(cut.outside)}."
        notes.note("lines-outside", sentence)
    if cut.lost:
        entering = many(len(cut.lost), "given row", "enter")
        sentence = f"{entering} the block without a row left in it: number {_numbers(cut.lost)}."
        notes.note("lines-lost", sentence)
    if cut.dropped:
        _note_short(cut.dropped, cut.dropped_m, settings, notes)


def _note_short(count: int, length_m: float, settings: RowSettings, notes: Findings) -> None:
    sentence = (
        f"{many(count, 'piece')} of row shorter than {settings.min_length_m:g} m left out, {length_m:.1f} m in all."
    )
    notes.note("rows-dropped", sentence)


def _numbers(indices: tuple[int, ...]) -> str:
    return name_some(str(index + 1) for index in indices)
