"""A study in words, for the end of a command."""

from collections.abc import Iterator
from textwrap import wrap
from typing import Final

import numpy as np

from wirerun.errors import printable
from wirerun.model.study import Study
from wirerun.tables import as_lines
from wirerun.tables.study import MEASURES, OF_WHOLE_PLANS
from wirerun.wording import many, number

# A cell with the blank before it; four beside the case's id and its direction stay within 80 columns.
_WIDE: Final = 14
_ACROSS: Final = 80


def study_words(study: Study) -> str:
    """Return how many cases there are, what rules some out, and the best of the others beside the config's own."""
    return "\n".join(printable(line) for line in _lines(study))


def _lines(study: Study) -> Iterator[str]:
    cases = study.cases.iloc[1:]
    whole = many(int((study.cases["whole"] == "yes").sum()), "case")
    yield f"{many(len(cases), 'case')} beside C000, the config as it stands; {whole} planned whole"
    for column, words in (("ruled_out", "ruled out"), ("failed", "failed")):
        said = cases[cases[column].fillna("") != ""]
        if len(said):
            yield f"{many(len(said), 'case')} {words}, such as {said['case'].iloc[0]}: {said[column].iloc[0]}"
    measures = study.measures
    unknown = [name for name in study.config.study.measures if name not in measures]
    if unknown:
        yield f"Known of no case that is left, so not counted: {', '.join(unknown)}"
        yield from _what_tells(unknown)
    if not measures:
        return
    best = study.cases[(study.cases["front"] == "yes") | (study.cases["case"] == "C000")]
    yield from wrap(f"No case is better than these in all of {', '.join(measures)}; C000 to compare:", _ACROSS)
    heads = [*(key.split(".")[-1] for key in study.keys), *(name.removesuffix("_pct") for name in measures)]
    yield _cells("case", heads)
    for line in as_lines(best):
        named = [str(line[key]) for key in study.keys]
        yield _cells(str(line["case"]), [*named, *(_figure(float(line[name]), name) for name in measures)])


def _what_tells(unknown: list[str]) -> Iterator[str]:
    """Go through what would tell the measures that are not known."""
    if any(name in OF_WHOLE_PLANS for name in unknown):
        yield 'Plan cases whole to know clips, cost and hours: study.whole = "allowed"'
    if any(name.startswith("sun_") for name in unknown):
        yield "Give study.sun_dates to know the sun"


def _cells(first: str, rest: list[str]) -> str:
    return f"{first:<6}" + "".join(f" {cell[:_WIDE]:>{_WIDE}}" for cell in rest)


def _figure(value: float, name: str) -> str:
    column = next(column for column in MEASURES if column.name == name)
    return "-" if np.isnan(value) else number(value, 0 if column.unit == "currency" else min(column.decimals, 1))
