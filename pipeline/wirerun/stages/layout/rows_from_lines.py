"""Rows that somebody drew: parallel to a guide line, or line by line."""

from typing import Final

import numpy as np

from wirerun.arrays import FloatArray, TextArray
from wirerun.errors import SettingError
from wirerun.findings import Findings, name_some
from wirerun.geometry.given import Cleaned, CutLines, clean_lines, cut_given
from wirerun.geometry.margin import within_margin
from wirerun.geometry.offsets import FollowReport, GuideError, follow_guide
from wirerun.geometry.places import LonLat, PlaneXY
from wirerun.geometry.station import Paths
from wirerun.model.layout import NamedRows, Rows
from wirerun.model.site import Site
from wirerun.records import Drawn
from wirerun.settings import RowSettings
from wirerun.stages.layout.numbering import name_rows, nameless
from wirerun.wording import many

# For each line: a headland drawn among them meets every row once. Choice.
_MOST_MEETINGS: Final = 5


def lay_follow(site: Site, drawn: Drawn, block_id: str, settings: RowSettings, notes: Findings) -> NamedRows:
    """Rows at whole spacings from a guide line, the first of them on the named side as one walks along it.

    Parameters
    ----------
    site : Site
        The block.
    drawn : Drawn
        With the guide: longitude and latitude of its vertices [deg]; and the rows whose ids are kept.
    block_id : str
        Starts each row's id.
    settings : RowSettings
        Spacing, margins, least length, first row.
    notes : Findings
        Hears of rows dropped, kinks, where there are no rows, and of ids kept.

    Returns
    -------
    NamedRows
        Their bearing is that from start to end.

    Raises
    ------
    SettingError
        If the guide cannot be followed, or the rows have no first one on the side that the config names.
    """
    if drawn.guide is None:
        msg = "rows.guide"
        raise SettingError(msg, "rows that follow need a guide")
    flat = site.frame.to_plane(LonLat.of(drawn.guide)).stacked()
    margin = within_margin(site.workable, settings.side_margin_m)
    try:
        curves, report = follow_guide(
            flat, site.workable, margin, settings.spacing_m, *settings.headlands_m, settings.min_length_m
        )
    except GuideError as error:
        at = site.frame.to_lonlat(PlaneXY(np.array([error.x_m]), np.array([error.y_m])))
        where = f"longitude {at.lon[0]:.6f}, latitude {at.lat[0]:.6f}"
        place = "rows.guide"
        raise SettingError(place, f"the guide cannot be followed: {error.message} at {where}") from error
    number = np.array([curve.number for curve in curves], dtype=np.int64)
    rows = _rows(block_id, [curve.xy for curve in curves])
    made = name_rows(rows, number, site.frame, settings, drawn.earlier, notes)
    _note_guide(report, settings, made, notes)
    return made


def lay_given(site: Site, drawn: Drawn, block_id: str, settings: RowSettings, notes: Findings) -> NamedRows:
    """Rows on given lines, cleaned, and cut to the block.

    Parameters
    ----------
    site : Site
        The block.
    drawn : Drawn
        With the lines: longitude and latitude of their vertices [deg]; what the file says of each, as JSON; and the
        rows whose ids are kept.
    block_id : str
        Starts each row's id.
    settings : RowSettings
        Gap to join, margins, least length, first row.
    notes : Findings
        Hears what was cleaned, left out and lost, and of ids kept.

    Raises
    ------
    SettingError
        If the rows have no first one on the side that the config names, or the lines are no rows.
    """
    flat = [site.frame.to_plane(LonLat.of(line)).stacked() for line in drawn.lines]
    cleaned = clean_lines(flat, settings.join_gap_m)
    if len(cleaned.meetings) > _MOST_MEETINGS * len(cleaned.lines):
        place = "rows.lines"
        sentence = (
            f"the {many(len(cleaned.lines), 'line')} cross or touch one another in "
            f"{many(len(cleaned.meetings), 'place')}; rows stand side by side"
        )
        raise SettingError(place, sentence)
    cut = cut_given(
        cleaned.lines,
        within_margin(site.workable, settings.side_margin_m),
        site.workable,
        *settings.headlands_m,
        settings.min_length_m,
    )
    said = [f"[{', '.join(drawn.attributes[source] for source in cleaned.sources[line])}]" for line in cut.pieces.line]
    rows = _rows(block_id, list(cut.paths), np.array(said, dtype=object))
    _note_lines(cleaned, notes)
    _note_cut(cut, cleaned, settings, notes)
    return name_rows(rows, cut.pieces.line, site.frame, settings, drawn.earlier, notes)


def _rows(block_id: str, lines: list[FloatArray], given: TextArray | None = None) -> Rows:
    paths = Paths.from_lines(lines)
    east, north = paths.x_m[paths.last] - paths.x_m[paths.first], paths.y_m[paths.last] - paths.y_m[paths.first]
    bearing_deg = np.degrees(np.arctan2(east, north)) % 360.0
    return Rows(block_id, nameless(len(lines)), bearing_deg, paths.length_m, paths, given)


def _note_guide(report: FollowReport, settings: RowSettings, made: NamedRows, notes: Findings) -> None:
    if not len(made.rows):
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
        kinked = made.rows.row_id[np.isin(made.line, report.kink_number)]
        notes.note(
            "row-kink",
            f"Rows turn by up to {report.kink_turn_deg.max():.0f} degrees at one place where the guide bends tightly, "
            f"{many(len(report.kink_number), 'place')}: {name_some(kinked)}.",
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
        pairs = name_some(
            f"{_feature(cleaned, meeting.first)} and {_feature(cleaned, meeting.second)}"
            for meeting in cleaned.meetings
        )
        notes.note(
            "lines-meet", f"{many(len(cleaned.meetings), 'pair')} of given rows crossing or touching: feature {pairs}."
        )


def _note_cut(cut: CutLines, cleaned: Cleaned, settings: RowSettings, notes: Findings) -> None:
    if not cut.paths:
        notes.note("no-rows", "No given line leaves a row in the block.")
    if cut.outside:
        off = many(len(cut.outside), "given row", "do not")
        sentence = f"{off} enter the block: feature {_features(cleaned, cut.outside)}."
        notes.note("lines-outside", sentence)
    if cut.lost:
        entering = many(len(cut.lost), "given row", "enter")
        sentence = f"{entering} the block without a row left in it: feature {_features(cleaned, cut.lost)}."
        notes.note("lines-lost", sentence)
    if cut.dropped:
        _note_short(cut.dropped, cut.dropped_m, settings, notes)


def _note_short(count: int, length_m: float, settings: RowSettings, notes: Findings) -> None:
    sentence = (
        f"{many(count, 'piece')} of row shorter than {settings.min_length_m:g} m left out, {length_m:.1f} m in all."
    )
    notes.note("rows-dropped", sentence)


def _feature(cleaned: Cleaned, line: int) -> str:
    """Return the first feature of the file that a line was made of."""
    return str(cleaned.sources[line][0] + 1)


def _features(cleaned: Cleaned, lines: tuple[int, ...]) -> str:
    return name_some(_feature(cleaned, line) for line in lines)
