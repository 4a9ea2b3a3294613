"""The story of a study: every case laid out and measured, some of them planned whole, all of them judged."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Final, TypeVar

import numpy as np
import pandas as pd

from wirerun.arrays import BoolArray, FloatArray
from wirerun.model.study import Case, Study
from wirerun.one_case import Bench, Laid
from wirerun.progress import Progress
from wirerun.settings import Config
from wirerun.settings.study import RowRule
from wirerun.stages.study.judge import front, ruled_out
from wirerun.tables import conform, empty
from wirerun.tables.study import MEASURES, STUDY_ROWS, study_table

# Cases whose rows are drawn on the page, beside the config's own: choice.
_MOST_SHOWN: Final = 8
# Fewer cases than this are done sooner than another process starts: choice.
_FEW: Final = 4


def run_study(
    config: Config,
    cases: Sequence[Case],
    rules: Sequence[RowRule],
    bench: Bench,
    workers: int,
    progress: Progress,
) -> Study:
    """Every case laid out, measured and judged; as many as the config asks for planned whole.

    Parameters
    ----------
    config : Config
        As it stands.
    cases : sequence of Case
        The config's own first.
    rules : sequence of RowRule
        What rows are held against.
    bench : Bench
        What cases are laid out and planned on; it has read the inputs of none, or of some.
    workers : int
        Processes at work side by side.
    progress : Progress
        Hears of each case.
    """
    bench.prepare(config)
    with progress.stage("laying out"):
        laid = _each(bench.lay, cases, workers, _counted(progress, "laying out", len(cases)))
    keys = tuple(cases[0].settings)
    names = [rule.id for rule in rules]
    made = _measures(cases, laid, names)
    share = {name: np.array([one.broken.get(name, (0, np.nan))[1] for one in laid]) for name in names}
    wanted = _to_plan(config, made, rules, share)
    with progress.stage("planning whole"):
        chosen = [case for case, on in zip(cases, wanted, strict=True) if on]
        plans = _each(bench.plan, chosen, workers, _counted(progress, "planning whole", len(chosen)))
    for at, one in zip(np.flatnonzero(wanted).tolist(), plans, strict=True):
        for name, value in one.measures.items():
            made.loc[at, name] = value
        made.loc[at, "failed"] = "; ".join(filter(None, (str(made["failed"].iloc[at]), one.failed)))
    made["whole"] = np.where(wanted, "yes", "no")
    made["ruled_out"] = ruled_out(made, config.study.limits, rules, share)
    among = (made["ruled_out"] == "").to_numpy() & (made["failed"] == "").to_numpy()
    measures = tuple(name for name in config.study.measures if made.loc[among, name].notna().any())
    known = among & made[list(measures)].notna().all(axis=1).to_numpy() & bool(measures)
    on = front(made, measures, known)
    made["front"] = pd.Series(np.where(on, "yes", "no"), index=made.index).where(known, None)
    table = study_table(keys, tuple(names))
    rows = pd.concat([one.rows for one in laid], ignore_index=True)
    shown = [cases[at] for at in _shown(made, measures)]
    return Study(
        config=config,
        keys=keys,
        rules=tuple(rules),
        cases=conform(table, made),
        rows=conform(STUDY_ROWS, rows) if len(rows) else empty(STUDY_ROWS),
        outlines=tuple(bench.outlines(cases[0])),
        lines={case.case_id: tuple(bench.lines(case)) for case in shown},
        measures=measures,
        seconds=progress.seconds,
    )


def _measures(cases: Sequence[Case], laid: Sequence[Laid], rules: Sequence[str]) -> pd.DataFrame:
    """Cases with their varied settings and what was measured of them so far; the rest is not known."""
    lines = []
    for case, one in zip(cases, laid, strict=True):
        values = {key: "" if value is None else str(value) for key, value in case.settings.items()}
        broken = {f"rule_{rule}": one.broken.get(rule, (0, 0.0))[0] for rule in rules}
        lines.append({"case": case.case_id, **values, **one.measures, **broken, "failed": one.failed})
    made = pd.DataFrame(lines)
    for column in MEASURES:
        value = made[column.name] if column.name in made.columns else pd.Series(np.nan, index=made.index)
        made[column.name] = value.fillna(0).astype("int64") if column.kind == "integer" else value.astype("float64")
    return made


def _to_plan(
    config: Config, made: pd.DataFrame, rules: Sequence[RowRule], share: Mapping[str, FloatArray]
) -> BoolArray:
    """Which cases are planned whole, [case]: those that could be laid out, as the config asks."""
    good = (made["failed"] == "").to_numpy() & (made["rows"] > 0).to_numpy()
    if config.study.whole == "none":
        return np.zeros(len(made), dtype=np.bool_)
    if config.study.whole == "allowed":
        good &= np.asarray(ruled_out(made, config.study.limits, rules, share) == "", dtype=np.bool_)
        # What everything is held against.
        good[0] = made.loc[0, "failed"] == ""
    return np.asarray(good, dtype=np.bool_)


def _shown(made: pd.DataFrame, measures: Sequence[str]) -> list[int]:
    """Cases whose rows are drawn: the config's own, and of the front those that are the best in some measure first."""
    on = np.flatnonzero((made["front"] == "yes").to_numpy())
    best = [int(on[np.argsort(made.loc[on, name].to_numpy(), kind="stable")[0]]) for name in measures if len(on)]
    apart = on[np.unique(np.linspace(0, max(len(on) - 1, 0), _MOST_SHOWN).astype(int))] if len(on) else on
    return list(dict.fromkeys([0, *best, *map(int, apart)]))[: _MOST_SHOWN + 1]


_Made = TypeVar("_Made")


def _each(do: Callable[[Case], _Made], cases: Sequence[Case], workers: int, tell: Callable[[], object]) -> list[_Made]:
    """Do something with every case, in so many processes, in the order of the cases."""
    made = []
    if workers < 2 or len(cases) < _FEW:
        for case in cases:
            made.append(do(case))
            tell()
        return made
    # Fresh processes: what a thread of this one holds must not be copied while it is held.
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for one in pool.map(do, cases, chunksize=max(1, min(8, len(cases) // (4 * workers)))):
            made.append(one)
            tell()
    return made


def _counted(progress: Progress, what: str, cases: int) -> Callable[[], object]:
    """Return what tells of one more case done each time it is called."""
    done = 0

    def tell() -> None:
        nonlocal done
        done += 1
        progress.tell(f"{what}: {done} of {cases}")

    return tell
