"""The story of a comparison: finished plans side by side, line by line and in total."""

from collections.abc import Iterator, Mapping, Sequence
from string import ascii_uppercase
from typing import Any, Final

from wirerun.model.comparison import Against, Comparison
from wirerun.records import FinishedPlan
from wirerun.stages.compare.lines import compare_lines
from wirerun.stages.compare.posts import mark_posts
from wirerun.stages.compare.totals import side_by_side
from wirerun.tables import ALL_TABLES

#: As many plans as there are letters.
MOST_PLANS: Final = len(ascii_uppercase)


def compare_plans(plans: Sequence[FinishedPlan]) -> Comparison:
    """Plans against the first of them, by id.

    Parameters
    ----------
    plans : sequence of FinishedPlan
        Two at least, `MOST_PLANS` at most.
    """
    lettered = dict(zip(ascii_uppercase, plans, strict=False))
    first = plans[0]
    against = tuple(_against(first, plan, letter) for letter, plan in list(lettered.items())[1:])
    return Comparison(lettered, against, side_by_side(lettered))


def _against(first: FinishedPlan, other: FinishedPlan, letter: str) -> Against:
    shared = [name for name in ALL_TABLES if name in first.tables and name in other.tables]
    changes = [compare_lines(ALL_TABLES[name], first.tables[name], other.tables[name], letter) for name in shared]
    one, two = (dict(_settings(plan.record.get("config", {}))) for plan in (first, other))
    settings = [
        (place, one.get(place, "-"), two.get(place, "-"))
        for place in dict.fromkeys([*one, *two])
        if one.get(place) != two.get(place)
    ]
    uncompared = [name for name in ALL_TABLES if (name in first.tables) != (name in other.tables)]
    return Against(
        letter=letter,
        settings=tuple(settings),
        inputs=tuple(_inputs(first, other)),
        posts=mark_posts(first, other, letter),
        tables=tuple(changes),
        uncompared=tuple(uncompared),
    )


def _settings(config: Mapping[str, Any], place: str = "") -> Iterator[tuple[str, str]]:
    """Go through the settings of a config as its record has it: place and value."""
    for key, value in config.items():
        if isinstance(value, Mapping):
            yield from _settings(value, f"{place}{key}.")
        elif isinstance(value, list) and value and all(isinstance(one, Mapping) and "id" in one for one in value):
            for one in value:
                yield from _settings(one, f"{place}{key}.{one['id']}.")
        else:
            yield f"{place}{key}", _written(value)


def _written(value: object) -> str:
    """Value of a setting as a config has it."""
    if value is None:
        return "-"
    if isinstance(value, bool):
        return str(value).lower()
    return ", ".join(map(_written, value)) if isinstance(value, list) else str(value)


def _inputs(first: FinishedPlan, other: FinishedPlan) -> Iterator[str]:
    """Go through the files that went in and are not the same: role and path."""
    one, two = (
        {(entry["role"], entry["path"]): entry["sha256"] for entry in plan.record.get("inputs", ())}
        for plan in (first, other)
    )
    for role, path in dict.fromkeys([*one, *two]):
        if one.get((role, path)) != two.get((role, path)):
            yield f"{role} {path}"
