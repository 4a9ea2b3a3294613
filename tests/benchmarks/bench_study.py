"""Time of a direction in a study, beside a plan of the same direction by itself, on the sample estate.

Run it as a script. All ways run in the same minutes, on one processor, so that the ratios hold on any machine: a study
lays every direction out on inputs that are read once, and plans whole what is asked for; the plans read for themselves,
and write nothing.
"""

import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from wirerun.api import load_config, plan_config, study
from wirerun.settings import Config

CONFIG = Path(__file__).parents[2] / "configs" / "encosta_nova.toml"
DIRECTIONS = [0.0, 36.0, 62.0, 72.0, 108.0, 144.0]
WHOLE = [62.0]


def trying(config: Config, bearings: list[float], whole: str) -> Config:
    """Return the config with a study of these directions."""
    settings = config.study.model_copy(update={"vary": {"rows.bearing_deg": bearings}, "whole": whole})
    return config.model_copy(update={"study": settings})


def turned(config: Config, bearing: float) -> Config:
    """Return the config in another direction."""
    return config.model_copy(update={"rows": config.rows.model_copy(update={"bearing_deg": bearing})})


def seconds(work: Callable[[], object]) -> float:
    """Return the processor seconds that a call takes."""
    start = time.process_time()
    work()
    return time.process_time() - start


def main() -> None:
    """Print a line for each way: seconds a direction, for 180 of them, and against as many plans."""
    config = load_config(CONFIG)
    study(trying(config, WHOLE, "none"))  # what is imported and compiled the first time is in none of the times
    # The config's own case comes first in every study.
    laid = seconds(lambda: study(trying(config, DIRECTIONS, "none"))) / (len(DIRECTIONS) + 1)
    both = seconds(lambda: study(trying(config, WHOLE, "all"))) / (len(WHOLE) + 1)
    alone = sum(seconds(partial(plan_config, turned(config, at))) for at in (0.0, 62.0)) / 2.0
    print("                       seconds a direction   180 directions   against 180 plans")
    for name, each in (("laid out", laid), ("planned whole", both), ("a plan by itself", alone)):
        print(f"{name:<22} {each:19.2f} {180.0 * each:16.0f} {each / alone:19.1%}")


if __name__ == "__main__":
    main()
