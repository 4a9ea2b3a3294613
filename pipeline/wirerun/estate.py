"""The story of an estate: block by block, each into a folder of its own, then what all of them come to.

Only one block a process is in memory at any time. Coils are cut for each block by itself.
"""

import time
from collections import deque
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import chdir
from dataclasses import dataclass, field, replace
from functools import cache, partial
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from threading import Lock
from typing import Final

import numpy as np
import pandas as pd

from wirerun.all_blocks import plan_all
from wirerun.cluster import on_cluster
from wirerun.errors import Exit, Fault, InputError, TargetError
from wirerun.findings import Findings, name_some
from wirerun.measured import measured_of
from wirerun.measurements import Learned
from wirerun.missing import Failures, MissingBlock
from wirerun.model.phases import Phases
from wirerun.progress import Progress
from wirerun.read.inputs import Shared, read_inputs, read_shared
from wirerun.read.offline import alike
from wirerun.read.polygons import area_m2
from wirerun.records import RECORD, Plan
from wirerun.result.phase_table import phase_table
from wirerun.settings import Config
from wirerun.settled import settle, settled
from wirerun.stages.work.phases import phase_blocks
from wirerun.tables import empty
from wirerun.tables.estate import PHASES
from wirerun.wording import many
from wirerun.write.estate import BLOCKS, ROLL_UP, EstateBlock, block_table, folder_of, write_roll_up
from wirerun.write.estate.tables import has_our_tables
from wirerun.write.fingerprint import inputs_mark
from wirerun.write.folder import check_target
from wirerun.write.record import is_result, read_record, result_faults
from wirerun.write.result import write_result

# Blocks that a worker plans before a fresh one takes its place, so that what the libraries keep does not add up.
_BLOCKS_A_WORKER: Final = 100
_KILLED: Final = "its worker process was ended from outside, perhaps for want of memory; plan with fewer --workers"


@dataclass(frozen=True, slots=True)
class Job:
    """What is asked for: where to, which parts, and whether blocks whose plan still holds are passed over.

    `learned` is what was measured, which is in the config.
    """

    config: Config
    shared: Shared
    target: Path
    parts: tuple[str, ...]
    changed: bool
    learned: tuple[Learned, ...] = ()

    def task(self, block_id: str) -> tuple[object, ...]:
        """Return what a worker elsewhere needs to plan one block: no other block's ground travels along."""
        return replace(self, shared=self.shared.only(block_id)), block_id, str(Path.cwd()), version("wirerun")


@dataclass(frozen=True, slots=True)
class Done:
    """What became of one block: `state` is planned, unchanged or missing."""

    block_id: str
    state: str
    missing: MissingBlock | None = None


#: Hears of each block: its id, what became of it, how many are done, of how many, and the seconds that the area left
#: takes if it goes on like this.
Tell = Callable[[str, str, int, int, float], object]


@dataclass(slots=True)
class Estate:
    """What came of a run: the blocks asked for, where it all lies, and what is built in which year."""

    target: Path
    done: list[Done] = field(default_factory=list)
    phases: pd.DataFrame = field(default_factory=lambda: empty(PHASES))

    @property
    def missing(self) -> list[MissingBlock]:
        """Return the blocks of this run that could not be planned."""
        return [one.missing for one in self.done if one.missing is not None]


def plan_estate(
    config: Config,
    target: Path,
    parts: Collection[str],
    *,
    blocks: Sequence[str] = (),
    changed: bool = False,
    overwrite: bool = False,
    workers: int | str = 1,
    tell: Tell = lambda *_: None,
) -> Estate:
    """Plan the blocks of an estate, one folder each, and roll up all that stand there.

    Parameters
    ----------
    config : Config
        As `load_config` returns it.
    target : Path
        The estate's folder: `blocks/` has a plan a block, `all/` what they come to together.
    parts : collection of str
        Which parts of each plan to write, of schedule, gis, map and cards; the schedule comes with any.
    blocks : sequence of str
        Which blocks to plan; all of them, where none is named.
    changed : bool
        Whether a block is passed over whose plan stands there and was made from the same inputs, by the same version.
    overwrite : bool
        Whether plans that stand there are replaced.
    workers : int or str
        How many processes plan blocks; or the address of a dask scheduler whose workers do. These must see the same
        files by the same paths.
    tell : callable
        Hears of each block.

    Raises
    ------
    InputError
        With every fault of a file or of the config; that of a single block costs that block alone.
    TargetError
        If the folder holds something else, or plans that may not be replaced.
    """
    with alike():
        shared = read_shared(config)
        asked = _asked(blocks, shared, config)
        taken = measured_of(config, shared, Progress())
    shared = replace(shared, catalogue=taken.catalogue)
    job = Job(taken.config, shared, target, tuple(sorted({"schedule", *parts})), changed, taken.learned)
    _check_folder(job, asked, overwrite=overwrite or changed)
    made = Estate(target)
    area = {block.block_id: area_m2(block.area) for block in shared.blocks}
    largest_first = sorted(asked, key=lambda block_id: -area.get(block_id, 0.0))
    start, whole = time.monotonic(), sum(area.get(block_id, 0.0) for block_id in asked)
    so_far = 0.0
    for done in _planned(job, largest_first, workers):
        made.done.append(done)
        so_far += area.get(done.block_id, 0.0)
        left = (time.monotonic() - start) * (whole - so_far) / so_far if so_far else 0.0
        tell(done.block_id, done.state, len(made.done), len(asked), left)
    place = {block_id: at for at, block_id in enumerate(asked)}
    made.done.sort(key=lambda one: place[one.block_id])
    with alike():
        standing, notes = _standing(job, made), Findings("estate")
        notes += taken.findings
        phases = _phases(config, standing, notes)
        made.phases = phase_table(phases, config.phases, config.work)
        if phases is not None:
            begun = dict(zip(phases.block_id[::-1], phases.year[::-1] + config.phases.first_year, strict=True))
            standing = [replace(block, year=begun.get(block.block_id)) for block in standing]
        write_roll_up(config, target, standing, [*notes, *shared.findings], made.phases)
    return made


def _phases(config: Config, standing: Sequence[EstateBlock], notes: Findings) -> Phases | None:
    """Share the blocks that have a plan out over the years; None where nothing limits a year."""
    if not config.phases.asked:
        return None
    lines = block_table(standing)
    there = lines[lines["state"] != "missing"]
    lost = lines.loc[lines["state"] == "missing", "block_id"]
    if len(lost):
        sentence = f"{many(len(lost), 'block', 'have')} no plan and so no year: {name_some(lost)}."
        notes.note("phases-over", sentence)
    if there.empty:
        return None
    ids = there["block_id"].to_numpy(dtype=object)
    hours, cash = (there[name].to_numpy(dtype=np.float64) for name in ("hours", "cost"))
    return phase_blocks(ids, hours, cash, config.phases, config.catalogue.currency, notes)


def _asked(blocks: Sequence[str], shared: Shared, config: Config) -> list[str]:
    """Return the blocks to plan, in the order of the boundary; refuse those that it does not have."""
    known, wanted = dict.fromkeys(shared.block_ids), set(blocks)
    unknown = [block_id for block_id in blocks if block_id not in known]
    if unknown:
        sentence = f"it has no block {name_some(unknown)}; there are {name_some(list(known), 20)}"
        raise InputError((Fault(config.block.boundary, "", sentence),))
    strange = [block_id for block_id in config.phases.order if block_id not in known]
    if strange:
        sentence = f"the boundary has no block {name_some(strange)}; it has {name_some(list(known), 20)}"
        raise InputError((Fault(config.file, "phases.order", sentence),))
    return [block_id for block_id in known if not wanted or block_id in wanted]


def _check_folder(job: Job, asked: Iterable[str], *, overwrite: bool) -> None:
    """Refuse a folder that is no estate's, and plans that may not be replaced, before the long work."""
    if (job.target / "run.json").exists():
        msg = f"{job.target} holds a finished plan, not an estate; choose another folder"
        raise TargetError(msg)
    check_target(job.target / ROLL_UP, overwrite=True)
    for block_id in asked:
        try:
            check_target(_place(job, block_id), overwrite=overwrite)
        except TargetError as error:
            msg = f"{error}; or plan what is missing or changed only (--changed)"
            raise TargetError(msg if not overwrite else str(error)) from error


def _place(job: Job, block_id: str) -> Path:
    return job.target / BLOCKS / folder_of(block_id)


def _planned(job: Job, block_ids: Sequence[str], workers: int | str) -> Iterator[Done]:
    """Plan blocks, in this process, in several or on a cluster, as they come to an end."""
    if isinstance(workers, str):
        yield from on_cluster(workers, block_ids, job.task, _plan_there, partial(_lost, job))
        return
    if workers < 2 or len(block_ids) < 2:
        yield from _one_by_one(job, block_ids)
        return
    yield from _by_workers(job, block_ids, min(workers, len(block_ids)))


def _one_by_one(job: Job, block_ids: Sequence[str]) -> Iterator[Done]:
    """Plan blocks in this process; when the first is planned, all modules are there."""
    for block_id in block_ids[:1]:
        yield plan_block(job, block_id)
    with settled():
        for block_id in block_ids[1:]:
            yield plan_block(job, block_id)


def _by_workers(job: Job, block_ids: Sequence[str], workers: int) -> Iterator[Done]:
    """Plan blocks in processes; where one is killed, each that was in work then is tried once more, alone."""
    waiting = deque(block_ids)
    while waiting:
        lost: list[str] = []
        with _pool(job, workers) as pool:
            running: dict[Future[Done], str] = {}
            while (waiting or running) and not lost:
                while waiting and len(running) < workers:
                    block_id = waiting.popleft()
                    running[pool.submit(_plan_here, block_id)] = block_id
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    block_id = running.pop(future)
                    try:
                        yield future.result()
                    except BrokenProcessPool:
                        lost.append(block_id)
            lost += running.values()
        for block_id in lost:
            yield _alone(job, block_id)


def _alone(job: Job, block_id: str) -> Done:
    """Plan a block in a process of its own; a second end from outside costs the block."""
    with _pool(job, 1) as pool:
        try:
            return pool.submit(_plan_here, block_id).result()
        except BrokenProcessPool:
            return _lost(job, block_id, _KILLED)


def _lost(job: Job, block_id: str, why: str) -> Done:
    """Return what stands for a block that no process could plan."""
    fault = Fault(job.config.file, f"block {block_id}", why, Exit.OUR_FAULT, block_id)
    return Done(block_id, "missing", MissingBlock(block_id, (fault,)))


def _pool(job: Job, workers: int) -> ProcessPoolExecutor:
    # Spawned: a process that was forked off would share the open files of the libraries.
    return ProcessPoolExecutor(
        workers,
        mp_context=get_context("spawn"),
        initializer=_take_up,
        initargs=(job,),
        max_tasks_per_child=_BLOCKS_A_WORKER,
    )


_JOB: list[Job] = []  # of a worker process


def _take_up(job: Job) -> None:
    _JOB[:] = [job]


def _plan_here(block_id: str) -> Done:
    done = plan_block(_JOB[0], block_id)
    _settle_once()
    return done


_settle_once = cache(settle)  # when all modules are there


_ONE_AT_A_TIME: Final = Lock()  # a cluster's worker may have several threads, and the libraries one set of options


def _plan_there(job: Job, block_id: str, folder: str, ours: str) -> Done:
    """Plan a block in a worker of a cluster, from the folder that the run was begun in."""
    theirs = version("wirerun")
    if theirs != ours:
        return _lost(job, block_id, f"the worker has wirerun {theirs}, not {ours}; install the same there")
    with _ONE_AT_A_TIME, chdir(folder):
        return plan_block(job, block_id)


def plan_block(job: Job, block_id: str) -> Done:
    """Plan one block of an estate into its folder; whatever goes wrong costs this block alone."""
    failed, config = Failures(job.config.file), job.config.only_block(block_id)
    state = "missing"
    with alike(), failed.noted(block_id):
        inputs = read_inputs(config, job.shared, block_id)
        mark = inputs_mark(inputs, config, job.parts)
        place = _place(job, block_id)
        if job.changed and _holds(place, mark):
            state = "unchanged"
        else:
            planned = plan_all(inputs, config, Progress(), Plan)
            made = replace(planned, inputs_mark=mark, measured=job.learned)
            write_result(made, place, overwrite=True, only=job.parts)
            state = "planned"
    if not failed.missing:
        return Done(block_id, state)
    return Done(block_id, "missing", failed.missing[0])


def _holds(place: Path, mark: str) -> bool:
    """Return whether the plan in a folder is whole, to the byte, and was made from the same."""
    return is_result(place, verify=True) and read_record(place).get("inputs_mark") == mark


def _unusable(place: Path) -> str:
    """Return why the plan of an earlier run cannot be counted; empty where it can."""
    if not (place / RECORD).exists():
        return "not planned as yet"
    faults = result_faults(place, verify=True)
    if faults:
        return f"its plan is damaged: {faults[0]}; plan it anew (--changed)"
    return "" if has_our_tables(place) else "its plan is of another version; plan it anew (--changed)"


def _standing(job: Job, made: Estate) -> list[EstateBlock]:
    """Return every block of the estate, with what is known of it: also those that this run was not asked for."""
    of_run = {done.block_id: done for done in made.done}
    areas = {block.block_id: block.area for block in job.shared.blocks}
    found = []
    for block_id in job.shared.block_ids:
        done = of_run.get(block_id)
        place = _place(job, block_id)
        if done is not None and done.missing is not None:
            state, reason = "missing", done.missing.reason
        elif done is not None:
            state, reason = done.state, ""
        else:
            reason = _unusable(place)
            state = "missing" if reason else "as it was"
        area = areas.get(block_id)
        found.append(EstateBlock(block_id, place, state, reason, None if area is None else area_m2(area) / 1e4, area))
    return found
