"""What is to be built, out of the blocks' tables."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from wirerun.arrays import BoolArray, IntArray, TextArray
from wirerun.errors import ModelError
from wirerun.model.to_build import BuiltAdjusters, BuiltClips, BuiltPosts, BuiltRows, BuiltWires, ToBuild
from wirerun.model.zones import ZoneRows
from wirerun.rules.pace import slope_factor
from wirerun.settings import Config

_Tables = dict[str, pd.DataFrame]


def to_build(tables: _Tables, config: Config) -> ToBuild:
    """What is to be built of all blocks together: all but what stands already.

    Parameters
    ----------
    tables : dict of DataFrame
        rows in working order, posts, clips, wires, adjusters.
    config : Config
        Wires of each block, and what slope makes of hours.
    """
    rows = tables["rows"]
    metres = rows["slope_length_m"].fillna(rows["length_m"])
    return ToBuild(
        rows=BuiltRows(
            row_id=_text(rows["row_id"]),
            walk_m=metres.to_numpy(dtype=np.float64),
            slope_factor=slope_factor(rows["slope_pct"].to_numpy(dtype=np.float64), config.work),
        ),
        posts=_posts(tables),
        clips=_clips(tables),
        wires=_wires(tables, config),
        adjusters=_adjusters(tables),
    )


def zone_rows(rows: pd.DataFrame) -> ZoneRows:
    """Rows of all blocks as zones are drawn from them, standing ones among them."""
    return ZoneRows(
        row_id=_text(rows["row_id"]),
        block_id=_text(rows["block_id"]),
        length_m=rows["length_m"].to_numpy(dtype=np.float64),
        slope_pct=rows["slope_pct"].to_numpy(dtype=np.float64),
        slope_class=_text(rows["slope_class"]),
        posts=_whole(rows["posts"]),
        two_way_posts=_whole(rows["two_way_posts"]),
    )


def new_of(table: pd.DataFrame) -> pd.DataFrame:
    """Lines of posts, wires or adjusters that do not stand already."""
    return table[table["standing"] != "yes"]


def place_of(rows: pd.DataFrame, row_id: pd.Series) -> IntArray:
    """Place of each id among the rows, [line].

    Raises
    ------
    ModelError
        If an id is not among them.
    """
    place = pd.Index(rows["row_id"]).get_indexer(pd.Index(row_id))
    if (place < 0).any():
        msg = f"the row {row_id.iloc[int(np.flatnonzero(place < 0)[0])]} is not among the rows"
        raise ModelError(msg)
    return np.asarray(place, dtype=np.int64)


def _posts(tables: _Tables) -> BuiltPosts:
    each = _alike(new_of(tables["posts"]), ["row_id", "kind", "post_item", "end_item"])
    return BuiltPosts(
        row=place_of(tables["rows"], each["row_id"]),
        is_end=np.asarray(each["kind"] == "end", dtype=np.bool_),
        item=_text(each["post_item"]),
        end_item=_text(each["end_item"]),
        posts=_whole(each["many"]),
    )


def _clips(tables: _Tables) -> BuiltClips:
    clips = tables["clips"].assign(new=tables["clips"]["pieces"] - tables["clips"]["standing_pieces"])
    each = _alike(clips[clips["new"] > 0], ["row_id", "wire_id", "clip", "seat", "fixing"], "new")
    return BuiltClips(
        row=place_of(tables["rows"], each["row_id"]),
        wire_id=_text(each["wire_id"]),
        clip=_text(each["clip"]),
        seat=_text(each["seat"]),
        item=_text(each["fixing"]),
        pieces=_whole(each["many"]),
    )


def _wires(tables: _Tables, config: Config) -> BuiltWires:
    rows, wires = tables["rows"], new_of(tables["wires"])
    wires = wires[wires["run_out_m"].notna()]
    row = place_of(rows, wires["row_id"])
    block = rows["block_id"].to_numpy(dtype=object)[row]
    thick = {(name, wire.id): wire.diameter_mm for name in set(block) for wire in config.for_block(name).wires}
    keys = zip(block, wires["wire_id"], strict=True)
    return BuiltWires(
        row=row,
        wire_id=_text(wires["wire_id"]),
        lines=_whole(wires["lines"]),
        line_m=(wires["cut_m_per_line"] + wires["tails_m_per_line"]).to_numpy(dtype=np.float64),
        run_out_m=wires["run_out_m"].to_numpy(dtype=np.float64),
        item=_text(wires["wire_item"]),
        diameter_mm=np.array([thick[key] for key in keys], dtype=np.float64),
        ends_move=_said(wires["ends_move"]),
    )


def _adjusters(tables: _Tables) -> BuiltAdjusters:
    gear = new_of(tables["adjusters"])
    each = _alike(gear[gear["kind"].notna()], ["row_id", "wire_id", "kind"])
    return BuiltAdjusters(
        row=place_of(tables["rows"], each["row_id"]),
        wire_id=_text(each["wire_id"]),
        item=_text(each["kind"]),
        adjusters=_whole(each["many"]),
    )


def _alike(frame: pd.DataFrame, keys: Sequence[str], summed: str = "") -> pd.DataFrame:
    """Lines that are alike, as they first come, and how `many` there are, or what a column of them comes to."""
    groups = frame.groupby(list(keys), dropna=False, sort=False, observed=True)
    many = groups[summed].sum() if summed else groups.size()
    return many.rename("many").reset_index()


def _text(column: pd.Series) -> TextArray:
    """Words of a column; None where there is none."""
    return np.asarray(column.astype(object).where(column.notna(), None), dtype=object)


def _whole(column: pd.Series) -> IntArray:
    return np.asarray(column, dtype=np.int64)


def _said(column: pd.Series) -> BoolArray:
    return np.asarray(column == "yes", dtype=np.bool_)
