"""Lines of wire out of the blocks' tables, and the tables of what they are cut from."""

import numpy as np
import pandas as pd

from wirerun.arrays import TextArray, no_words
from wirerun.model.coils import CoilPlan, WireLines, WireSpans
from wirerun.records import Stock
from wirerun.rules.pace import slope_factor
from wirerun.settings import WorkSettings
from wirerun.tables import COIL_OPTIONS, COILS, conform, empty

# Lengths are whole millimetres. One this close to a millimetre is that one: what is over is rounding of the sum.
_ROUNDING_MM = 1e-6


def wire_lines(wires: pd.DataFrame, rows: pd.DataFrame, work: WorkSettings) -> WireLines:
    """Every line of wire with a known length and an item of the catalogue, rounded up to the millimetre.

    Parameters
    ----------
    wires : DataFrame
        row_id, wire_id, lines, cut_m_per_line, tails_m_per_line, wire_item.
    rows : DataFrame
        row_id, block_id, zone_id, slope_pct, in working order.
    work : WorkSettings
        What slope makes of hours.
    """
    known = wires[wires["cut_m_per_line"].notna() & wires["wire_item"].notna()]
    place = pd.Series(np.arange(len(rows)), index=rows["row_id"].to_numpy())
    known = known.assign(row=known["row_id"].map(place)).sort_values("row", kind="stable", ignore_index=True)
    each = known.loc[known.index.repeat(known["lines"])]
    row = each["row"].to_numpy(dtype=np.int64)
    length_mm = 1000.0 * (each["cut_m_per_line"] + each["tails_m_per_line"]).to_numpy()
    return WireLines(
        item=each["wire_item"].to_numpy(dtype=object),
        row=row,
        row_id=each["row_id"].to_numpy(dtype=object),
        wire_id=each["wire_id"].to_numpy(dtype=object),
        number=np.asarray(each.groupby(level=0).cumcount() + 1, dtype=np.int64),
        length_mm=np.ceil(length_mm - _ROUNDING_MM).astype(np.int64),
        tail_m=each["tails_m_per_line"].to_numpy(dtype=np.float64),
        block=pd.factorize(rows["block_id"])[0].astype(np.int64)[row],
        zone=pd.factorize(rows["zone_id"])[0].astype(np.int64)[row],
        slope_factor=slope_factor(rows["slope_pct"].to_numpy(dtype=np.float64), work)[row],
    )


def wire_spans(spans: pd.DataFrame) -> WireSpans:
    """Spans of the wires whose lengths are known.

    Parameters
    ----------
    spans : DataFrame
        span_id, row_id, wire_id, horizontal_m, cut_m, along each row.
    """
    ours = spans.loc[spans["cut_m"].notna(), ["span_id", "row_id", "wire_id", "horizontal_m", "cut_m"]]
    row = np.asarray(ours.groupby(["row_id", "wire_id"], sort=False).ngroup(), dtype=np.int64)
    order = np.argsort(row, kind="stable")
    ours, row = ours.iloc[order], row[order]
    first = np.flatnonzero(np.diff(row, prepend=-1))
    return WireSpans(
        row=row,
        row_id=ours["row_id"].to_numpy(dtype=object)[first],
        wire_id=ours["wire_id"].to_numpy(dtype=object)[first],
        span_id=ours["span_id"].to_numpy(dtype=object),
        horizontal_m=ours["horizontal_m"].to_numpy(dtype=np.float64),
        cut_m=ours["cut_m"].to_numpy(dtype=np.float64),
    )


def coil_table(plan: CoilPlan, zone_of_row: pd.Series, stock: Stock) -> pd.DataFrame:
    """Lengths cut from coils: `tables.COILS`.

    Parameters
    ----------
    plan : CoilPlan
        What is cut from what.
    zone_of_row : Series
        Zone by row_id.
    stock : Stock
        Which coils are there: part coils, and of each wire so many whole ones, those that are begun first.
    """
    pieces, lines = plan.pieces, plan.lines
    if not len(pieces):
        return empty(COILS)
    on = pieces.joins_on
    after = np.append(False, on[:-1])
    line = pd.Series(pieces.line)
    row_id = lines.row_id[pieces.line]
    made = pd.DataFrame(
        {
            "coil_id": plan.coil_id[pieces.coil],
            "wire_item": lines.item[pieces.line],
            "row_id": row_id,
            "wire_id": lines.wire_id[pieces.line],
            "line": lines.number[pieces.line],
            "from_m": pieces.from_mm / 1000.0,
            "to_m": pieces.to_mm / 1000.0,
            "joined": _yes(on | after),
            "zone_id": zone_of_row.reindex(row_id).to_numpy(),
            "coil_m": (plan.coil_mm / 1000.0)[pieces.coil],
            "remainder_m": (plan.left_mm / 1000.0)[pieces.coil],
            "remainder_usable": _yes(plan.kept[pieces.coil]),
            "piece": (line.groupby(line).cumcount() + 1).to_numpy(dtype=np.int64),
            "join_m": pieces.join_m,
            "join_span": pieces.join_span,
            "carried": _yes(pieces.carried),
            "with_line": np.where(pieces.with_line > 0, pieces.with_line, np.nan),
            "from_stock": _from_stock(plan, stock)[pieces.coil],
            "stock_tag": np.append(stock.part_tag, no_words(1))[plan.part][pieces.coil],
        }
    )
    return conform(COILS, made)


def _from_stock(plan: CoilPlan, stock: Stock) -> TextArray:
    """Whether each coil is in stock, and how, [coil]."""
    whole = plan.part < 0
    there = np.where(whole, "no", "part").astype(object)
    for item, pieces in zip(stock.item, stock.pieces.tolist(), strict=True):
        there[np.flatnonzero(whole & (plan.item == item))[:pieces]] = "whole"
    return there


def coil_options_table(plan: CoilPlan) -> pd.DataFrame:
    """Ways to cut every wire: `tables.COIL_OPTIONS`."""
    options = plan.options
    if not len(options.item):
        return empty(COIL_OPTIONS)
    made = pd.DataFrame(
        {
            "wire_item": options.item,
            "way": options.way,
            "coils": options.coils,
            "joins": options.joins,
            "most_open": options.most_open,
            "most_coils_in_a_zone": options.most_in_a_zone,
            "cost": options.cost,
            "chosen": _yes(options.chosen),
            "trips": options.trips,
            "least_cost": options.least_cost,
        }
    )
    return conform(COIL_OPTIONS, made)


def _yes(given: np.ndarray) -> np.ndarray:
    return np.where(given, "yes", "no")
