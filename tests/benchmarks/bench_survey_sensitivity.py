"""How two-way clips move with threshold, accuracy and smoothing where the ground comes from a survey.

Run ``python tests/benchmarks/bench_survey_sensitivity.py`` (a minute). Scenes of `survey_reliability.py`, noise of 3 cm
and grass in patches: two made grounds, three places of a real lidar raster, whose truth is known. One choice is changed
at a time; printed are, per 1000 intermediate posts, those planned with two-way clips, needlessly, and missed.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from survey_reliability import SETTINGS, Surveyed, cases, tell  # type: ignore[import-not-found]
from wirerun.settings import CERTAINTY
from wirerun.surface.accuracy import accuracy_of

Array = NDArray[np.float64]
_NAMES = ["made, 16 %", "made, 40 %", "real 1", "real 2", "real 3"]
_HALVED, _DOUBLED = 0.5, 2.0


def ways(case: Surveyed) -> Iterator[tuple[str, Array, NDArray[np.bool_], float]]:
    """Go through the choices: name, probability, truth, and from which probability on a post is planned."""
    good = accuracy_of(case.off_m[:14], case.check_xy[:14], SETTINGS).accuracy_m
    said, true = tell(case, good, SETTINGS.unseen_m)
    for name in ("certain", "likely", "possible"):
        yield f"plan_for {name} ({CERTAINTY[name]:g})", said, true, CERTAINTY[name]
    for share in (_HALVED, _DOUBLED):
        yield f"accuracy_m times {share:g}", *tell(case, share * good, SETTINGS.unseen_m), 0.5
    yield "unseen_m 0", *tell(case, good, 0.0), 0.5
    yield "unseen_m 0.03", *tell(case, good, 0.03), 0.5
    for metres, seen_m in case.smoothed_m.items():
        other = case._replace(feet=case.feet.at_heights(seen_m))
        yield f"smoothing_m {metres:g}", *tell(other, good, SETTINGS.unseen_m, metres), 0.5


def main() -> None:
    """Print a line a choice."""
    counted: dict[str, list[tuple[float, ...]]] = {}
    for _, grass, case in cases(_NAMES, (0.03,), 1):
        if grass == "patches":
            for name, said, true, least in ways(case):
                planned = said >= least
                counts = planned.sum(), (planned & ~true).sum(), (~planned & true).sum(), true.sum(), len(true)
                counted.setdefault(name, []).append(tuple(map(float, counts)))
    print("per 1000 intermediate posts: two-way, needless, missed")
    for name, each in counted.items():
        planned, needless, missed, true, posts = np.sum(each, axis=0) * 1.0
        print(
            f"   {name:24} {1000 * planned / posts:4.0f} {1000 * needless / posts:4.0f} {1000 * missed / posts:4.0f}"
            f"   ({1000 * true / posts:.0f} truly need one, {posts:.0f} posts)"
        )


if __name__ == "__main__":
    main()
