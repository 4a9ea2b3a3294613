"""Which number a row gets: counted from the side that the config names, or kept from an earlier plan."""

from typing import Final, NamedTuple

import numpy as np
import pandas as pd

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, words
from wirerun.errors import SettingError
from wirerun.findings import Findings, name_some
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import LonLat
from wirerun.geometry.shapes import ShapeArray, lines_through
from wirerun.geometry.side_by_side import Pairs, side_by_side
from wirerun.geometry.station import Paths
from wirerun.ids import row_ids
from wirerun.model.layout import NamedRows, Rows
from wirerun.records import EarlierRows
from wirerun.settings import RowSettings
from wirerun.wording import many

_TOWARDS: Final = {"north": (0.0, 1.0), "south": (0.0, -1.0), "east": (1.0, 0.0), "west": (-1.0, 0.0)}
# Choice: where square to the rows is further off a side than this, nobody could tell which row is the first. [deg]
_MOST_OFF_DEG: Final = 85.0
# Choice: rows that moved by less stand where they stood, as far as a crew can tell; lines are stored to 5 cm. [m]
_TOLD_M: Final = 0.1
_NONE_GONE: Final = Paths.from_lines([])


def name_rows(
    rows: Rows, line: IntArray, frame: Frame, settings: RowSettings, earlier: EarlierRows | None, notes: Findings
) -> NamedRows:
    """Rows in order from the side that numbers start at, with their ids.

    Lines that hold a row are numbered 1, 2, 3 ... without gaps; the rows of one line share its number and are told
    apart by letters. Beside an earlier plan a row that is the same as one of its rows keeps its id, a new row on a kept
    line takes the line's next letter, and a new line the next number above all that the earlier plan knows of.

    Two lines are the same where they run side by side nearer than half a spacing; each is paired once, the nearest
    first. Of several rows on one line the one keeps an id whose start is nearest to the earlier start.

    Parameters
    ----------
    rows : Rows
        Ordered by line, then along it; their ids are passed over.
    line : [row]
        Which line each is a piece of, from the left.
    frame : Frame
        The block's frame.
    settings : RowSettings
        First row, and the spacing in plan.
    earlier : EarlierRows or None
        The block's rows in the plan whose ids are kept.
    notes : Findings
        Hears how many ids were kept.

    Raises
    ------
    SettingError
        If the rows run towards the side that the first of them should lie at.
    """
    if not len(rows):
        order = np.arange(0)
    else:
        order = np.lexsort((np.arange(len(line)), line if _from_left(rows.paths, settings.first_row) else -line))
    rows, line = rows.taken(order), line[order]
    counted = _counted(line)
    piece = _place_in(line)
    if earlier is None or not len(earlier.row_id):
        origin = "numbered" if earlier is None else "new"
        named = rows.called(words(row_ids(rows.block_id, counted + 1, piece)))
        made = NamedRows(named, line, _all(origin, len(rows)), np.full(len(rows), np.nan), words([]), _NONE_GONE)
    else:
        made = _beside(rows, line, frame, settings.spacing_m / 2.0, earlier)
    if earlier is not None:
        _note_kept(made, earlier, settings, notes)
    return made


def nameless(count: int) -> TextArray:
    """Ids for rows that have none yet, [row]."""
    return words(f"row {number}" for number in range(1, count + 1))


def _from_left(paths: Paths, side: str) -> bool:
    """Whether numbers start at the left of the rows; the side is seen from all metres of row together."""
    if side in ("left", "right"):
        return side == "left"
    east, north = (xy[paths.last] - xy[paths.first] for xy in (paths.x_m, paths.y_m))
    # The right hand of a row that runs (east, north) points (north, -east).
    right = np.array([north.sum(), -east.sum()]) / paths.length_m.sum()
    facing = float(right @ np.array(_TOWARDS[side]))
    off_deg = float(np.degrees(np.arccos(min(abs(facing), 1.0))))
    if off_deg > _MOST_OFF_DEG:
        msg = (
            f"square to the rows is {off_deg:.1f} degrees off {side}, at most {_MOST_OFF_DEG:g} will do: they have no "
            f'first row on that side; set "left" or "right", as one looks along them'
        )
        place = f'rows.first_row = "{side}"'
        raise SettingError(place, msg)
    return facing < 0.0


def _counted(line: IntArray) -> IntArray:
    """Number of each row's line in the order of the rows, from 0; rows of one line follow one another."""
    return np.cumsum(np.diff(line, prepend=line[:1]) != 0)


def _place_in(group: IntArray) -> IntArray:
    """Place of each within its group, from 0, in the order given."""
    return np.asarray(pd.Series(group).groupby(group).cumcount(), dtype=np.int64)


def _all(word: str, count: int) -> TextArray:
    return np.full(count, word, dtype=object)


def _shapes(paths: Paths) -> ShapeArray:
    return lines_through(paths.vertices.stacked(), paths.path)


class _Found(NamedTuple):
    """What is known of the rows beside the earlier plan, [row]: the earlier row or -1, its line's number or 0."""

    before: IntArray
    number: IntArray
    moved_m: FloatArray


def _beside(rows: Rows, line: IntArray, frame: Frame, within_m: float, earlier: EarlierRows) -> NamedRows:
    """Rows with their ids beside an earlier plan."""
    lines = [frame.to_plane(LonLat.of(each)).stacked() for each in earlier.lines]
    before = Paths.from_lines(lines)
    found = _Found(np.full(len(rows), -1), np.zeros(len(rows), np.int64), np.full(len(rows), np.nan))
    if len(rows):
        pairs = side_by_side(_shapes(rows.paths), _shapes(before), within_m)
        _pair_lines(found, line, earlier, pairs)
        _pair_rows(found, earlier, pairs)
    kept = found.before >= 0
    number, piece = _free_names(found, line, kept, earlier)
    ids = words(row_ids(rows.block_id, number, piece))
    gone = np.ones(len(earlier.row_id), dtype=np.bool_)
    gone[found.before[kept]] = False
    return NamedRows(
        rows.called(ids),
        line,
        np.where(kept, _all("kept", len(rows)), "new"),
        found.moved_m,
        words(earlier.row_id)[gone],
        before.only(gone),
    )


def _pair_lines(found: _Found, line: IntArray, earlier: EarlierRows, pairs: Pairs) -> None:
    """Give lines the numbers of earlier ones, each once: those that still stood first, then the nearest."""
    each = pd.DataFrame(
        {
            "line": line[pairs.one],
            "number": earlier.number[pairs.other],
            "gone": ~earlier.living[pairs.other],
            "beside_m": pairs.beside_m,
            "area": pairs.beside_m * pairs.apart_m,
        }
    )
    both = each.groupby(["line", "number"], as_index=False).agg(
        gone=("gone", "min"), beside_m=("beside_m", "sum"), area=("area", "sum")
    )
    both["apart_m"] = both["area"] / both["beside_m"]
    both = both.sort_values(["gone", "apart_m", "line", "number"], kind="stable")
    number_of: dict[int, int] = {}
    taken: set[int] = set()
    for one, number in zip(both["line"].tolist(), both["number"].tolist(), strict=True):
        if one not in number_of and number not in taken:
            number_of[one] = number
            taken.add(number)
    found.number[:] = [number_of.get(one, 0) for one in line.tolist()]


def _pair_rows(found: _Found, earlier: EarlierRows, pairs: Pairs) -> None:
    """Give rows the ids of earlier ones on the line of their number, each once, the nearest starts first."""
    on_line = found.number[pairs.one] == earlier.number[pairs.other]
    one, other, start, apart = (each[on_line] for each in (pairs.one, pairs.other, pairs.start_m, pairs.apart_m))
    taken: set[int] = set()
    order = np.lexsort((other, one, start, ~earlier.living[other]))
    for row, before, apart_m in zip(one[order].tolist(), other[order].tolist(), apart[order].tolist(), strict=True):
        if found.before[row] < 0 and before not in taken:
            found.before[row], found.moved_m[row] = before, apart_m
            taken.add(before)


def _free_names(found: _Found, line: IntArray, kept: BoolArray, earlier: EarlierRows) -> tuple[IntArray, IntArray]:
    """Number and piece of every row: kept ones their own, others the next letter of their line or the next number."""
    number, piece = found.number.copy(), np.zeros(len(line), np.int64)
    number[kept], piece[kept] = earlier.number[found.before[kept]], earlier.piece[found.before[kept]]
    on_kept_line = ~kept & (number > 0)
    last = pd.Series(earlier.piece).groupby(earlier.number).max()
    piece[on_kept_line] = _place_in(number[on_kept_line]) + 1 + last.reindex(number[on_kept_line]).to_numpy()
    free = number == 0
    number[free] = _counted(line[free]) + 1 + earlier.number.max()
    piece[free] = _place_in(line[free])
    return number, piece


def _note_kept(made: NamedRows, earlier: EarlierRows, settings: RowSettings, notes: Findings) -> None:
    new = made.rows.row_id[made.origin == "new"]
    kept = len(made.rows) - len(new)
    gone = made.gone_id
    code = "ids-kept" if kept or not len(new) else "ids-not-kept"
    parts = [
        f"{many(kept, 'row', 'keep' if kept != 1 else 'keeps')} the id of {earlier.folder}",
        f"{len(new)} new" + (f" ({name_some(new)})" if len(new) else ""),
        f"{len(gone)} gone" + (f" ({name_some(gone)})" if len(gone) else ""),
    ]
    moved_m = float(np.nanmax(made.moved_m, initial=0.0))
    if moved_m >= _TOLD_M:
        parts[0] += f", {moved_m:.2f} m from it at most"
    within = f"same is what runs nearer than {settings.spacing_m / 2.0:.4g} m to it"
    notes.note(code, f"{', '.join(parts)}; {within}; row_ids.csv lists all.")
