"""Time of a direction in a study, beside a plan of the same direction by itself, on the sample estate.

Run it as a script; it takes a minute or two. Both ways run in turn on one processor, so that the ratios hold on any
machine: a study lays directions out on inputs that are read once, the plans read for themselves and write nothing.
What 180 directions take is worked out from fewer: what is read and set out once, and each direction beyond.
"""

import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from wirerun.api import load_config, plan_config, study
from wirerun.settings import Config

CONFIG = Path(__file__).parents[2] / "configs" / "encosta_nova.toml"
ALL = 180
# Every twelfth direction stands for all: rows along the contour and down the hill are among them.
FEW = [float(at) for at in range(0, ALL, 12)]
PLANNED = [0.0, 62.0]


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
    """Print seconds a direction by each way, what 180 of them come to, and that against as many plans."""
    config = load_config(CONFIG)
    study(trying(config, FEW[:1], "none"))  # what is imported and compiled the first time is in none of the times
    # The config's own case comes first in every study.
    two, many = (seconds(partial(study, trying(config, some, "none"))) for some in (FEW[:1], FEW))
    each = (many - two) / (len(FEW) - 1)
    alone = sum(seconds(partial(plan_config, turned(config, at))) for at in PLANNED) / len(PLANNED)
    whole = seconds(partial(study, trying(config, PLANNED[:1], "all"))) / 2.0
    once = two - 2.0 * each
    print(f"read and set out once: {once:.2f} s; {ALL} directions from {len(FEW)} laid out, {len(PLANNED)} planned")
    print("                       seconds a direction   180 directions   against 180 plans")
    for name, one, begun in (("laid out", each, once), ("planned whole", whole, 0.0), ("a plan by itself", alone, 0.0)):
        total = begun + ALL * one
        print(f"{name:<22} {one:19.2f} {total:16.0f} {total / (ALL * alone):19.1%}")


if __name__ == "__main__":
    main()
