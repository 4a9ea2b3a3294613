"""Make up what a crew might have measured on the demo estate, with a truth that is known.

Run ``python sample_data/encosta_nova/make_measured.py``: it plans ``configs/encosta_nova.toml``, takes posts, spans and
freed wires out of its tables, and writes the files of ``measured/`` beside itself, with the same bytes every time. The
truth stands in `TRUTH`; what was read has the errors of a spring balance, a folding rule and a watch on it.

Tensions are not the tool's: they are reckoned here by hand, post by post, as a taut string with friction.
"""

import csv
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import wirerun
from scipy.optimize import brentq

HERE: Final = Path(__file__).resolve().parent
CONFIG: Final = HERE.parents[1] / "configs" / "encosta_nova.toml"
SEED: Final = 20_626

#: What is true on this estate, whatever the config says.
TRUTH: Final = {
    "friction": 0.31,
    "end_give_mm_per_kn": 8.0,
    "freed_higher_m": 0.06,
    "clip_median_n": 14.0,
    "clip_spread": 0.2,
    "pull_out_median_n": 1450.0,
    "pull_out_spread": 0.15,
    "post_minutes": 5.0,
    "run_out_minutes": 2.4,
}
READING: Final = 0.03
RULE_M: Final = 0.01
WATCH: Final = 0.08
# Lines that were read, strained from the start at 14 C, and how warm they were.
READ: Final = (("B01-R060", "lower"), ("B01-R080", "lower"), ("B01-R100", "fruiting"))
STRAINED_C: Final = 14.0
COLD_C: Final = 1.0
FREED: Final = ("B01-R060", "B01-R080", "B02-R020", "B02-R040")
SHARES: Final = (0.0, 0.25, 0.5, 0.75, 1.0)

GRAVITY, STEEL_KG_M3, STEEL_PA, PER_K = 9.80665, 7850.0, 200e9, 12e-6


def main() -> None:
    """Write all files."""
    config = wirerun.load_config(CONFIG)
    ends = config.posts.model_copy(update={"end_give_mm_per_kn": TRUTH["end_give_mm_per_kn"]})
    made = wirerun.plan_config(config.model_copy(update={"posts": ends}))
    noise = np.random.default_rng(SEED)
    write("tensions", tensions(made, noise))
    write("freed_heights", freed(made, noise))
    pulls = TRUTH["clip_median_n"] * np.exp(TRUTH["clip_spread"] * noise.normal(size=10))
    write("clip_tests", [{"item": "open clip, one staple", "pull_n": f"{pull:.1f}"} for pull in pulls])
    pulls = TRUTH["pull_out_median_n"] * np.exp(TRUTH["pull_out_spread"] * noise.normal(size=5))
    write("pull_out_tests", [{"item": "pine post 80 x 2500", "pull_n": f"{pull:.0f}"} for pull in pulls])
    write("minutes", minutes(noise))


def tensions(made: Any, noise: np.random.Generator) -> list[dict[str, str]]:  # noqa: ANN401 - a plan
    """Readings along lines of wire, strained, and again on a cold morning."""
    wires = {wire.id: wire for wire in made.config.wires}
    lines = []
    for row_id, wire_id in READ:
        posts = made.posts[made.posts["row_id"] == row_id].sort_values("station_m")
        wire = wires[wire_id]
        set_n = wire.tension_n * (1.0 + 0.08 * noise.normal())
        strained = along(posts, wire, set_n)
        colder = cooled(posts, wire, set_n, made.config.wires, COLD_C - STRAINED_C)
        for celsius, pulls in ((STRAINED_C, strained), (COLD_C, strained + colder)):
            for share in SHARES:
                span = round(share * (len(pulls) - 1))
                read = pulls[span] * (1.0 + READING * noise.normal())
                lines.append(
                    {
                        "row": row_id,
                        "wire": wire_id,
                        "place": f"S{span + 1:03d}",
                        "gauge": "tension",
                        "reading": f"{read:.0f}",
                        "temperature_c": f"{celsius:g}",
                    }
                )
    return lines


def along(posts: pd.DataFrame, wire: Any, set_n: float) -> np.ndarray:  # noqa: ANN401 - settings of a wire
    """Tension in each span of a line strained from its start: friction at every clip, weight by height [N]."""
    x, z = posts["station_m"].to_numpy(), posts["ground_m"].to_numpy()
    weight = STEEL_KG_M3 * GRAVITY * np.pi * (wire.diameter_mm / 1000.0) ** 2 / 4.0
    slope, span = np.diff(z) / np.diff(x), np.diff(x)
    # The wire arrives steeper and leaves flatter than the chords by half its sag's slope on either side.
    turn = np.abs(slope[:-1] - slope[1:] + weight * 0.5 * (span[:-1] + span[1:]) / set_n)
    kept = np.exp(-TRUTH["friction"] * np.concatenate([[0.0], np.cumsum(turn)]))
    middle = 0.5 * (z[:-1] + z[1:])
    return np.asarray(kept * (set_n + weight * (middle - z[0])))


def cooled(posts: pd.DataFrame, wire: Any, set_n: float, wires: Any, change_k: float) -> float:  # noqa: ANN401
    """How much tighter a line gets as it cools, its ends giving way to all wires of the row [N]."""
    x, z = posts["station_m"].to_numpy(), posts["ground_m"].to_numpy()
    chord = np.hypot(np.diff(x), np.diff(z))
    weight = STEEL_KG_M3 * GRAVITY * np.pi * (wire.diameter_mm / 1000.0) ** 2 / 4.0

    def stiffness(diameter_mm: float) -> float:
        return STEEL_PA * np.pi * (diameter_mm / 1000.0) ** 2 / 4.0

    own = stiffness(wire.diameter_mm)
    every = sum(each.lines * stiffness(each.diameter_mm) for each in wires)
    give = 2.0 * TRUTH["end_give_mm_per_kn"] * 1e-6 * every / own
    sag = (weight**2 * chord**3 / 24.0).sum()

    def too_long(pull_n: float) -> float:
        longer = chord.sum() * (PER_K * change_k + (pull_n - set_n) / own) + give * (pull_n - set_n)
        return float(longer - sag * (1.0 / pull_n**2 - 1.0 / set_n**2))

    return float(brentq(too_long, 0.2 * set_n, 5.0 * set_n)) - set_n


def freed(made: Any, noise: np.random.Generator) -> list[dict[str, str]]:  # noqa: ANN401 - a plan
    """Heights of freed wires at posts where they hang."""
    lines = []
    for row_id in FREED:
        clips = made.clips[(made.clips["row_id"] == row_id) & (made.clips["wire_id"] == "lower")].sort_values("post_id")
        hangs = clips[clips["dropped_height_m"] > 0.2]
        for at in np.linspace(0, len(hangs) - 1, 5).round().astype(int):
            one = hangs.iloc[at]
            height = one["dropped_height_m"] + TRUTH["freed_higher_m"] + RULE_M * noise.normal()
            lines.append(
                {
                    "row": row_id,
                    "wire": "lower",
                    "place": one["post_id"].rsplit("-", 1)[1],
                    "height_m": f"{height:.2f}",
                    "temperature_c": f"{made.config.states.winter_c:g}",
                }
            )
    return lines


def minutes(noise: np.random.Generator) -> list[dict[str, str]]:
    """Work timed on three mornings, on flat and on steep ground."""
    factor = {5.0: 1.0, 25.0: 1.35}
    lines = []
    for task, true, amounts in (
        ("pine post 80 x 2500", TRUTH["post_minutes"], (31, 28, 35)),
        ("run out", TRUTH["run_out_minutes"] / 100.0, (640, 820, 510)),
    ):
        for amount, slope in zip(amounts, (5.0, 25.0, 25.0), strict=True):
            spent = amount * true * factor[slope] * (1.0 + WATCH * noise.normal())
            lines.append({"task": task, "quantity": f"{amount}", "minutes": f"{spent:.0f}", "slope_pct": f"{slope:g}"})
    return lines


def write(name: str, lines: list[dict[str, str]]) -> None:
    """Write one file."""
    with (HERE / "measured" / f"{name}.csv").open("w", encoding="utf-8", newline="") as stream:
        out = csv.DictWriter(stream, list(lines[0]), lineterminator="\r\n")
        out.writeheader()
        out.writerows(lines)


if __name__ == "__main__":
    main()
