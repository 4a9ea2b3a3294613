"""The tables of one block in service, and of what machines meet in its rows; none where nothing was asked."""

import numpy as np
import pandas as pd

from wirerun import tables
from wirerun.arrays import BoolArray, FloatArray, TextArray, only_where, words
from wirerun.model.block import PlannedBlock
from wirerun.model.service import GIVES, Held, InService
from wirerun.tables import Table


def service_tables(block: PlannedBlock) -> dict[str, pd.DataFrame]:
    """Tables by name that the config asks for.

    Parameters
    ----------
    block : PlannedBlock
        What the chapters made.
    """
    made: dict[str, list[pd.DataFrame]] = {}
    service = block.service
    if service is not None:
        made["service"] = [_wires(block, *each) for each in zip(service.states, service.held, strict=True)]
        made["service_posts"] = [
            _posts(block, *each, service.rule) for each in zip(service.states, service.bears_nm, strict=True)
        ]
    made["machine_rows"] = [_machine_rows(block, number) for number in range(len(block.machines.limits))]
    return {name: pd.concat(parts, ignore_index=True) for name, parts in made.items() if parts}


def _framed(table: Table, columns: dict[str, object]) -> pd.DataFrame:
    return pd.DataFrame({name: columns[name] for name in table.names})


def _exposure(block: PlannedBlock) -> TextArray:
    """Word of each row, [row]."""
    edge = block.service.edge if block.service is not None else np.zeros(len(block.posts.rows), dtype=np.bool_)
    return np.where(edge, *tables.EXPOSURES).astype(object)


def _greatest(values: FloatArray, first: np.ndarray) -> FloatArray:
    """Greatest of each row over its posts, [wire, row]; NaN where none is known."""
    return np.fmax.reduceat(values, first, axis=1)


def _wires(block: PlannedBlock, state: InService, held: Held) -> pd.DataFrame:
    posts, rows, wires = block.posts, block.posts.rows, block.config.wires
    first, count = posts.first, len(posts.rows)
    knot = np.array([wire.knot_n for wire in wires])[:, None]
    used = _greatest(held.used, first)
    # The first post of each row at which the use is greatest.
    is_worst = held.used == used[:, posts.row]
    index = np.where(is_worst, np.arange(len(posts)), len(posts))
    worst = np.minimum.reduceat(index, first, axis=1)
    known = worst < len(posts)
    at = np.where(known, worst, 0)
    gives = np.take_along_axis(held.gives, at, axis=1)
    middle = np.where(posts.is_end, 0, 1)
    fixings = np.add.reduceat(middle, first)
    over = np.add.reduceat(held.used > 1.0, first, axis=1)
    seen = np.add.reduceat(~np.isnan(held.used), first, axis=1)
    tight = state.tension_n / knot
    return _framed(
        tables.SERVICE,
        {
            "row_id": np.tile(rows.row_id, len(wires)),
            "wire_id": np.repeat(words([wire.id for wire in wires]), count),
            "state": str(state.on.state),
            "exposure": np.tile(_exposure(block), len(wires)),
            "down_n_per_m": state.on.down_n_per_m.ravel(),
            "side_n_per_m": state.on.side_n_per_m.ravel(),
            "tension_n": state.tension_n.ravel(),
            "knot_used_pct": 100.0 * tight.ravel(),
            "end_pull_n": state.end_pull_n.ravel(),
            "down_n": np.maximum(_greatest(state.load_n, first), 0.0).ravel(),
            "up_n": np.maximum(_greatest(-state.load_n, first), 0.0).ravel(),
            "side_n": _greatest(state.side_n, first).ravel(),
            "fixing_used_pct": 100.0 * used.ravel(),
            "at_post": only_where(known, posts.post_id[at]).ravel(),
            "gives_first": only_where(known, words(GIVES)[gives]).ravel(),
            "over": over.ravel().astype(np.int64),
            "verdict": _verdicts((over > 0) | (tight > 1.0), (seen < fixings) | np.isnan(tight)).ravel(),
        },
    )


def _verdicts(fails: BoolArray, unknown: BoolArray) -> TextArray:
    return np.select([fails, unknown], tables.VERDICTS[1:], tables.VERDICTS[0]).astype(object)


def _posts(block: PlannedBlock, state: InService, bears_nm: FloatArray, rule: TextArray) -> pd.DataFrame:
    posts = block.posts
    each = pd.DataFrame(
        {
            "exposure": _exposure(block)[posts.row],
            "kind": np.where(posts.is_end, "end", "intermediate"),
            "post_item": block.heights.item,
            "side_n": state.post_side_n,
            "moment_nm": state.post_moment_nm,
            "end_pull_n": state.post_pull_n,
            "end_moment_nm": state.post_along_nm,
            "bears_nm": bears_nm,
            "rule": rule,
            "pushed": state.is_pushed,
            "over": state.post_moment_nm > bears_nm,
            "unknown": np.isnan(state.post_moment_nm) | (np.isnan(bears_nm) & state.is_pushed),
        }
    )
    lines = []
    for (exposure, kind, item), some in each.groupby(["exposure", "kind", "post_item"], dropna=False, sort=False):
        moment = some["moment_nm"]
        rules = some["rule"].dropna().tolist()
        told = some["pushed"].any() and not moment.isna().all()
        at = posts.post_id[some.index.to_numpy()[int(np.nanargmax(moment))]] if told else None
        lines.append(
            {
                "block_id": posts.block_id,
                "exposure": exposure,
                "kind": kind,
                "post_item": item if isinstance(item, str) else None,
                "state": str(state.on.state),
                "posts": len(some),
                **{name: some[name].max() for name in ("side_n", "moment_nm", "end_pull_n", "end_moment_nm")},
                "at_post": at,
                "rule": rules[0] if rules else None,
                "bears_nm": some["bears_nm"].min(),
                "over": int(some["over"].sum()),
                "verdict": str(_verdicts(np.array(some["over"].any()), np.array(some["unknown"].any()))),
            }
        )
    return pd.DataFrame(lines)[tables.SERVICE_POSTS.names]


def _machine_rows(block: PlannedBlock, number: int) -> pd.DataFrame:
    machines, rows = block.machines, block.posts.rows
    limit, over = machines.limits[number], machines.over[number]
    measured = {"grade": machines.grade_pct, "cross": machines.cross_pct, "slope": machines.slope_pct}
    most = {name: getattr(limit, f"most_{name}_pct") for name in measured}
    asked = [name for name in measured if most[name] is not None]
    unknown = np.isnan([measured[name] for name in asked]).any(axis=0) if asked else np.ones(len(rows), dtype=np.bool_)
    return _framed(
        tables.MACHINE_ROWS,
        {
            "row_id": rows.row_id,
            "limit": limit.id,
            "grade_pct": machines.grade_pct,
            "cross_slope_pct": machines.cross_pct,
            "slope_pct": machines.slope_pct,
            **{f"most_{name}_pct": np.nan if most[name] is None else float(most[name]) for name in measured},
            "verdict": np.select([over, unknown], tables.VERDICTS[1:], tables.VERDICTS[0]).astype(object),
            "source": limit.source,
        },
    )
