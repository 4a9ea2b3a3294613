"""How near a survey comes to the truth: ground below made-up canopies and rows in them, against the goals.

Run ``python tests/benchmarks/bench_survey.py``: some minutes. Scenes (`survey_cases.py`) are hybrids: canopies, grass,
trees and survey noise of known shape over made ground and over a real 1 m bare-earth lidar raster. The filter's numbers
were chosen on another set of them, ``--choosing``. ``--others PYTHON`` runs two packages for any terrain side by side,
by a Python that has them (`other_filters.py`): the second goal is a share of the better one's error beyond that of the
survey alone, sqrt(RMSE^2 - floor^2), the best of all their ways in each place taken. Goals are ours (choice).
"""

import argparse
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, zoom
from survey_cases import CHOOSING, REPORTING, Case, cases
from survey_scenes import Scene, judge_ground, row_length_m
from wirerun.surface.block_canopy import BlockCanopy
from wirerun.surface.canopy import canopy_cm
from wirerun.surface.ground_filter import FilterSettings, ground_of, join_cells, noise_of
from wirerun.surface.local_plane import local_planes
from wirerun.surface.row_lines import FoundRow, trace_rows
from wirerun.surface.row_waves import RowWave, find_wave

FloatArray = NDArray[np.float64]

CELL_M = 0.1
TOLD = FilterSettings(CELL_M, 1.2, 8.0)
_NEAR_M = 0.3  # a found place this close to a true row is right
_SMOOTH_M = 0.6  # ground cells of a package that only finds such are joined by our own local plane
_WHERE = ("alley", "vines")


class Found(NamedTuple):
    """What came of a scene: ground and wave and rows, and CPU seconds a million cells of the ground."""

    ground_m: FloatArray
    wave: RowWave | None
    rows: list[FoundRow]
    seconds: float


def work(case: Case) -> Found:
    """Return ground, wave and rows of a scene."""
    scene, told = case.scene, TOLD._replace(grass_m=case.told_grass_m)
    join = round(CELL_M / scene.cell_m)
    surface, valid = join_cells(scene.surface_m, np.ones(scene.surface_m.shape, dtype=bool), join)
    start = time.process_time()
    made = ground_of(surface, valid, told, noise_of(surface, valid, told))
    seconds = time.process_time() - start
    rows, columns = (count // 2 for count in valid.shape)
    height = (surface - made.ground_m - told.grass_m).reshape(rows, 2, columns, 2).mean(axis=(1, 3))
    known = (made.reach_m > 0.0).reshape(rows, 2, columns, 2).all(axis=(1, 3))
    inside = scene.planted[:: 2 * join, :: 2 * join]
    canopy = BlockCanopy(canopy_cm(height, np.asarray(known), 2.0 * CELL_M, told.canopy_m), inside)
    wave = find_wave(canopy, 2.0 * CELL_M, (1.2, 4.2))
    found = [] if wave is None else trace_rows(canopy, 2.0 * CELL_M, wave)
    ground = made.ground_m if join == 1 else zoom(made.ground_m, join, order=1, mode="nearest", grid_mode=True)
    return Found(ground, wave, found, seconds / (valid.size / 1e6))


def judge_rows(scene: Scene, found: list[FoundRow]) -> tuple[float, float, float, float]:
    """Return recall and precision by length, and median and 95 % of the offsets [m]."""
    true_m = row_length_m(scene)
    high_m = scene.surface_m.shape[0] * scene.cell_m
    length, right, offsets = 0.0, 0.0, []
    for row in found:
        x, y = (row.cells[:, 0] + 0.5) * 2.0 * CELL_M, high_m - (row.cells[:, 1] + 0.5) * 2.0 * CELL_M
        place = scene.rows.place(x, y)[0]
        off = np.abs(place - np.round(place)) * scene.rows.spacing_m
        good = off < _NEAR_M
        length, right = length + row.length_m, right + row.length_m * float(good.mean())
        offsets.append(off[good])
    if not length:
        return 0.0, 0.0, np.inf, np.inf
    off = np.concatenate(offsets)
    return right / true_m, right / length, float(np.median(off)), float(np.quantile(off, 0.95))


def others(scene: Scene, python: str) -> dict[str, FloatArray]:
    """Return the ground of each way of the packages, by its name; empty where none is there."""
    grounds = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        np.save(folder / "scene.npy", scene.surface_m)
        (folder / "scene.txt").write_text(str(scene.cell_m))
        script = Path(__file__).with_name("other_filters.py")
        subprocess.run([python, str(script), name], check=True, stdout=subprocess.DEVNULL)  # noqa: S603 - as the user says
        for file in sorted((folder / "made").glob("scene-*.npy")):
            made = np.load(file)
            way = file.stem.removeprefix("scene-")
            grounds[way] = joined_up(scene, made) if made.dtype == np.bool_ else np.asarray(made, dtype=np.float64)
    return grounds


def joined_up(scene: Scene, ground: NDArray[np.bool_]) -> FloatArray:
    """Return the ground through the cells that a package took for it."""
    planes = local_planes(np.where(ground, scene.surface_m, 0.0), ground.astype(np.float64), _SMOOTH_M / scene.cell_m)
    known = planes.support > 0.02
    nearest = distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.asarray(planes.height_m[tuple(nearest)])


def beyond(said: dict[str, float], where: str) -> float:
    """Return the error beyond that of the survey alone [cm]."""
    return 100.0 * float(np.sqrt(max(said[f"{where}_rmse"] ** 2 - said[f"{where}_floor"] ** 2, 0.0)))


class Tally:
    """Which goals are reached on which scenes."""

    def __init__(self) -> None:
        self.reached: dict[str, list[tuple[str, bool]]] = {}

    def goal(self, name: str, case: Case, good: object) -> None:
        """Take down one scene."""
        if case.in_goals:
            self.reached.setdefault(name, []).append((f"{case.name} ({case.seed})", bool(good)))

    def tell(self) -> None:
        """Print all."""
        print("Goals: scenes that reach them")
        for name, scenes in self.reached.items():
            missed = [scene for scene, good in scenes if not good]
            print(f"  {name:52} {len(scenes) - len(missed)} of {len(scenes)}", *missed, sep="; " if missed else "")


def tell_ground(case: Case, found: Found, python: str | None, tally: Tally) -> str:
    """Return the line on the ground of a scene."""
    judged = judge_ground(case.scene, found.ground_m)
    said = {name: 100.0 * value for name, value in judged.items()}
    line = f"  {case.name:28} {case.seed:3d}"
    line += "".join(f"  {said[f'{where}_rmse']:4.1f} ({said[f'{where}_bias']:+.1f})" for where in _WHERE)
    line += f"  floor {said['alley_floor']:.1f} {said['vines_floor']:.1f}  {found.seconds:.1f}"
    tally.goal("ground in alleys, RMSE at most 4 cm", case, said["alley_rmse"] <= 4.0)
    tally.goal("ground below vines, RMSE at most 4.5 cm", case, said["vines_rmse"] <= 4.5)
    if python is None:
        return line
    ways = {name: judge_ground(case.scene, ground) for name, ground in others(case.scene, python).items()}
    for where, share in zip(_WHERE, (0.4, 0.3), strict=True):
        if not ways:
            line += "  no package there"
            break
        best = min(ways, key=lambda name: ways[name][f"{where}_rmse"])
        ratio = beyond(judged, where) / max(beyond(ways[best], where), 1e-9)
        level = _spread(judged, where) / max(_spread(ways[best], where), 1e-9)
        line += (
            f"  {where} {100.0 * ways[best][f'{where}_rmse']:.1f} ({best}), of it {ratio:.2f}, level apart {level:.2f}"
        )
        tally.goal(f"ground, {where}: at most {share} of the better package's", case, ratio <= share)
    return line


def _spread(said: dict[str, float], where: str) -> float:
    """Return the error beyond the survey's alone with the mean of both taken out: what a plan feels [cm]."""
    about = said[f"{where}_rmse"] ** 2 - said[f"{where}_bias"] ** 2
    return 100.0 * float(np.sqrt(max(about - said[f"{where}_floor"] ** 2, 0.0)))


def tell_rows(case: Case, found: Found, tally: Tally) -> str:
    """Return the line on the rows of a scene."""
    recall, precision, median, worst = judge_rows(case.scene, found.rows)
    rows, wave = case.scene.rows, found.wave
    spacing = np.inf if wave is None else abs(wave.spacing_m - rows.spacing_m)
    turn = np.nan
    if wave is not None and not rows.radius_m:
        turn = abs((np.degrees(np.arctan2(wave.along[0], -wave.along[1])) - rows.bearing_deg + 90.0) % 180.0 - 90.0)
    tally.goal("rows, recall at least 0.99", case, recall >= 0.99)
    tally.goal("rows, precision at least 0.99", case, precision >= 0.99)
    tally.goal("rows, offset at most 2 cm, P95 at most 6 cm", case, median <= 0.02 and worst <= 0.06)
    tally.goal("spacing within 0.3 cm", case, spacing <= 0.003)
    tally.goal("direction within 0.02 degrees (straight rows)", case, np.isnan(turn) or turn <= 0.02)
    return (
        f"  {case.name:28} {case.seed:3d}  {recall:.3f} {precision:.3f}  {100.0 * median:4.1f} {100.0 * worst:4.1f}  "
        f"{100.0 * spacing:.2f} cm  {turn:.3f} deg"
    )


def lines(given: argparse.Namespace, tally: Tally) -> Iterator[str]:
    """Go through the scenes: each line on its ground is printed, those on its rows are yielded."""
    for case in cases(given.seeds or (CHOOSING if given.choosing else REPORTING)):
        found = work(case)
        print(tell_ground(case, found, given.others, tally), flush=True)
        yield tell_rows(case, found, tally)


def main() -> None:
    """Print both tables, and which goals are reached."""
    words = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    words.add_argument("--others", metavar="PYTHON", help="a Python that has the packages")
    words.add_argument("--choosing", action="store_true", help="the set that the filter's numbers were chosen on")
    words.add_argument("--seeds", type=int, nargs="+", help="these seeds instead")
    given = words.parse_args()
    tally = Tally()
    print("Ground, cm: RMSE (bias) in alleys and below vines, and of the survey alone; CPU s a million cells")
    if given.others is None:
        print("  (the packages are left out: --others names a Python that has them)")
    of_rows = list(lines(given, tally))
    print("Rows: recall and precision by length; offset median and P95, cm; spacing and direction off")
    print(*of_rows, sep="\n")
    tally.tell()


if __name__ == "__main__":
    main()
