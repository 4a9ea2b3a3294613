"""Which line of wire is cut from which coil, and at which marks."""

import numpy as np
import pandas as pd
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from wirerun.arrays import IntArray
from wirerun.findings import Finding, name_some
from wirerun.ids import working_order
from wirerun.optimise.cutting import Cuts, cut_runs
from wirerun.settings import Catalogue, CoilSettings
from wirerun.settings.catalogue import WireItem
from wirerun.tables import COILS, empty
from wirerun.wording import many, number

# Marks are whole millimetres. A length this close to one is that one: what is over is rounding of the sum.
_ROUNDING_MM = 1e-6


def cut_coils(wires: pd.DataFrame, catalogue: Catalogue, settings: CoilSettings) -> tuple[pd.DataFrame, list[Finding]]:
    """Every length to cut from every coil, in the order of coils and marks.

    Runs are rounded up to the millimetre and coils down, so that marks add up as printed. Coils of one wire are
    numbered by the first row cut from them. A coil is cut in the order of the rows, save that the rest of a line begun
    on an earlier coil comes first, and a line that goes on from another coil comes last.

    Where joins are not allowed, a run longer than a coil is joined all the same, from coils of its own. A least piece
    of more than half a coil could not always be kept; half a coil is taken then.

    Parameters
    ----------
    wires : DataFrame
        row_id, wire_id, lines, cut_m_per_line, tails_m_per_line, wire_item, of all blocks. Wires without a length or
        an item are left out.
    catalogue : Catalogue
        Its wires, with the length on a coil.
    settings : CoilSettings
        Joins, the least piece of a joined run, the least remainder worth keeping.

    Returns
    -------
    coils : DataFrame
        The columns of `tables.COILS` but zone_id.
    findings : list of Finding
        Coils of every item; runs that are longer than a coil.
    """
    runs = _runs(wires)
    parts, findings, count = [], [], 0
    for item in catalogue.wire:
        mine = runs[runs["wire_item"] == item.id].reset_index(drop=True)
        if mine.empty:
            continue
        pieces, noticed = _cut_item(mine, item, settings)
        parts.append(pieces.assign(coil=pieces["coil"] + count + 1))
        findings += noticed
        count = int(parts[-1]["coil"].max())
    names = [name for name in COILS.names if name != "zone_id"]
    if not parts:
        return empty(COILS)[names], findings
    coils = pd.concat(parts, ignore_index=True)
    # As wide as the last number, so that coils sort by their ids.
    width = max(3, len(str(count)))
    return coils.assign(coil_id=[f"C{number:0{width}d}" for number in coils["coil"]])[names], findings


def _runs(wires: pd.DataFrame) -> pd.DataFrame:
    """One line per line of wire, in working order, with its length in whole millimetres."""
    known = wires[wires["cut_m_per_line"].notna() & wires["wire_item"].notna()]
    rows = known["row_id"].drop_duplicates().reset_index(drop=True)
    rank = pd.Series(np.arange(len(rows)), index=rows.to_numpy()[working_order(rows)])
    known = known.assign(rank=known["row_id"].map(rank)).sort_values("rank", kind="stable", ignore_index=True)
    length = 1000.0 * (known["cut_m_per_line"] + known["tails_m_per_line"])
    known["run_mm"] = np.ceil(length - _ROUNDING_MM).astype("int64")
    runs = known.loc[known.index.repeat(known["lines"])]
    return runs.assign(line=runs.groupby(level=0).cumcount() + 1).reset_index(drop=True)


def _cut_item(runs: pd.DataFrame, item: WireItem, settings: CoilSettings) -> tuple[pd.DataFrame, list[Finding]]:
    """Pieces of all runs of one wire, coils from 0, and what to say of them."""
    coil_mm = int(np.floor(1000.0 * item.length_m + _ROUNDING_MM))
    length = runs["run_mm"].to_numpy()
    too_long = (length > coil_mm) & (not settings.joins)
    cuts = [
        (which, _cut(length[which], coil_mm, joins=joins, least_piece_m=settings.least_piece_m))
        for which, joins in ((np.flatnonzero(~too_long), settings.joins), (np.flatnonzero(too_long), True))
        if which.size
    ]
    before = np.cumsum([0, *(cut.coils for _, cut in cuts)])
    run = np.concatenate([which[cut.run] for which, cut in cuts])
    coil = np.concatenate([first + cut.coil for first, (_, cut) in zip(before, cuts, strict=False)])
    length_m = np.concatenate([cut.to_m - cut.from_m for _, cut in cuts])
    pieces = pd.DataFrame({"run": run, "coil": coil, "length_m": length_m})
    # Pieces of a run may be parts of a millimetre longer or shorter, the whole run not.
    end_mm = np.rint(1000.0 * pieces.groupby("run")["length_m"].cumsum()).astype("int64")
    pieces["piece_mm"] = end_mm - end_mm.groupby(run).shift(fill_value=0)
    pieces = _in_working_order(pieces)

    to_mm = pieces.groupby("coil")["piece_mm"].cumsum()
    remainder_mm = coil_mm - pieces.groupby("coil")["piece_mm"].transform("sum")
    usable = remainder_mm >= 1000.0 * settings.least_remainder_m
    pieces = (
        runs.loc[pieces["run"], ["wire_item", "row_id", "wire_id", "line"]]
        .reset_index(drop=True)
        .assign(
            coil=pieces["coil"],
            from_m=(to_mm - pieces["piece_mm"]) / 1000.0,
            to_m=to_mm / 1000.0,
            joined=np.where(pieces["run"].duplicated(keep=False), "yes", "no"),
            coil_m=coil_mm / 1000.0,
            remainder_m=remainder_mm / 1000.0,
            remainder_usable=np.where(usable, "yes", "no"),
        )
    )
    findings = [_what_was_cut(pieces, item, runs, [cut for _, cut in cuts])]
    if too_long.any():
        findings.append(_too_long(runs[too_long], item, cuts[-1][1]))
    return pieces, findings


def _cut(length_mm: IntArray, coil_mm: int, *, joins: bool, least_piece_m: float) -> Cuts:
    """Cut runs of whole millimetres from coils of whole millimetres."""
    least_mm = min(np.ceil(1000.0 * least_piece_m), coil_mm // 2)
    return cut_runs(length_mm / 1000.0, coil_mm / 1000.0, joins=joins, least_piece_m=least_mm / 1000.0)


def _in_working_order(pieces: pd.DataFrame) -> pd.DataFrame:
    """Pieces in the order in which a crew that works along the rows cuts them, coils numbered anew in that order.

    Coils that share a joined line stay one after the other, in the order they came in.
    """
    run, coil = pieces["run"].to_numpy(), pieces["coil"].to_numpy()
    coils, runs = coil.max() + 1, run.max() + 1
    shared = coo_array((np.ones(len(run)), (coil, coils + run)), shape=(coils + runs, coils + runs))
    group = connected_components(shared, directed=False)[1][coil]
    part, parts = pieces.groupby("run").cumcount(), pieces.groupby("run")["coil"].transform("size")
    # The rest of a line begun before, then whole lines, then a line that the next coil goes on with.
    place = np.select([part > 0, parts == 1], [0, 1], 2)
    first_run = pieces.groupby(group)["run"].transform("min")
    ordered = pieces.assign(first_run=first_run, place=place).sort_values(
        ["first_run", "coil", "place", "run"], kind="stable", ignore_index=True
    )
    return ordered.assign(coil=pd.factorize(ordered["coil"])[0])


def _what_was_cut(pieces: pd.DataFrame, item: WireItem, runs: pd.DataFrame, cuts: list[Cuts]) -> Finding:
    coils, least = sum(cut.coils for cut in cuts), sum(cut.least_coils for cut in cuts)
    joins, least_joins = sum(cut.joins for cut in cuts), sum(cut.least_joins for cut in cuts)
    kept = pieces[pieces["remainder_usable"] == "yes"].drop_duplicates("coil")["remainder_m"]
    proof = "the least possible" if coils == least else f"at most {coils - least} more than the least possible"
    joining = many(joins, "join")
    if joins > least_joins:
        joining += f" (at most {joins - least_joins} more than the least possible)"
    left = f"{many(len(kept), 'remainder')} long enough to keep"
    if len(kept):
        left += f", {number(kept.sum())} m in all"
    return Finding(
        "coils",
        item.id,
        f"{many(coils, 'coil')} of {item.length_m:.1f} m for {many(len(runs), 'run')}, "
        f"{number(runs['run_mm'].sum() / 1000.0, 3)} m in all: {proof}, with {joining}; {left}.",
    )


def _too_long(runs: pd.DataFrame, item: WireItem, cuts: Cuts) -> Finding:
    return Finding(
        "run-too-long",
        item.id,
        f"{many(len(runs), 'run', 'are')} longer than a coil of {item.length_m:.1f} m, up to "
        f"{runs['run_mm'].max() / 1000.0:.1f} m, and coils.joins is false. Joined all the same, with "
        f"{many(cuts.joins, 'join')} from {many(cuts.coils, 'coil')} of their own, so that the order is whole: "
        f"{name_some(runs['row_id'].unique())}.",
    )
