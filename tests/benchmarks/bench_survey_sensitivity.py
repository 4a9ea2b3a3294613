"""How many two-way clips the sample survey's plan has by threshold, smoothing and accuracy: what a choice is worth.

Run ``python tests/benchmarks/bench_survey_sensitivity.py``: the sample is surveyed, and its plan made anew with one
setting changed at a time (half a minute). The survey itself does not print this: ground and wires are laid anew for each
line, so it takes as long as so many plans; anyone has a line of it by changing the setting in plan.toml.
"""

import tempfile
from pathlib import Path
from typing import Any

from wirerun import plan_config
from wirerun.api import load_config, survey_file
from wirerun.settings import Config

CONFIG = Path(__file__).parents[2] / "configs" / "encosta_nova_survey.toml"


def changed(config: Config, section: str, **values: Any) -> Config:  # noqa: ANN401 - any setting
    """Return the config with some settings of a section changed."""
    own = getattr(config, section).model_copy(update=values)
    return config.model_copy(update={section: own})


def main() -> None:
    """Print a line a choice."""
    with tempfile.TemporaryDirectory() as folder:
        survey_file(CONFIG, Path(folder) / "survey")
        config = load_config(Path(folder) / "survey" / "plan.toml")
        elevation = config.elevation
        ways = [("as the survey has it", config)]
        ways += [
            (f"plan_for {name}", changed(config, "undulation", plan_for=name))
            for name in ("certain", "likely", "possible")
        ]
        ways += [(f"smoothing_m {metres:g}", changed(config, "elevation", smoothing_m=metres)) for metres in (0.5, 1, 2, 4)]
        ways += [
            (f"accuracy_m {metres:.3f}", changed(config, "elevation", accuracy_m=metres))
            for metres in (0.5 * elevation.accuracy_m, 2.0 * elevation.accuracy_m, 0.01, 0.02, 0.03, 0.05)
        ]
        ways += [(f"unseen_m {metres:g}", changed(config, "elevation", unseen_m=metres)) for metres in (0.0, 0.01, 0.03)]
        ways += [
            (f"hold_down_n {newtons:g}", changed(config, "undulation", hold_down_n=newtons)) for newtons in (0, 10, 20)
        ]
        print(f"accuracy_m {elevation.accuracy_m}, unseen_m {elevation.unseen_m}, smoothing_m {elevation.smoothing_m}")
        for name, way in ways:
            posts = plan_config(way).posts
            inner = posts["clip_need"] != "none"
            counts = posts["clip_need"].value_counts()
            print(
                f"   {name:24} {counts.get('two-way', 0):4d} two-way, {counts.get('look-on-site', 0):3d} to look at, "
                f"of {int(inner.sum())}",
                flush=True,
            )


if __name__ == "__main__":
    main()
