"""What tests of clips, posts and working time say of the catalogue and of the config.

A pull that clips or posts are tested for is the one that all but 5 % of them withstand (`rules.clip_test`); minutes are
those of one person on flat ground, by all the time over all that was done.
"""

from collections.abc import Iterable, Sequence
from typing import Final, TypeVar

import numpy as np

from wirerun.errors import Faults
from wirerun.measurements import Change, Learned
from wirerun.rules.clip_test import characteristic_n, held_down_n
from wirerun.rules.from_catalogue import cheapest_post
from wirerun.rules.other_unit import other_unit
from wirerun.rules.pace import slope_factor
from wirerun.rules.row_names import nearest
from wirerun.settings import Catalogue, Config
from wirerun.settings.fixing_item import LEAST_TESTS, FixingItem
from wirerun.settings.measured import LEAST_PULLS, ClipTest, PullOutTest, TimedWork
from wirerun.wording import many

_Row = TypeVar("_Row")
# Nobody works so many times as fast as was assumed, or as slowly: choice.
_MOST_TIMES: Final = 20.0
#: Files of the catalogue with minutes, by field of `Catalogue`.
_TIMED: Final = ("rates", "fixings", "adjusters", "posts", "ends")


def learn_from_clip_tests(
    tests: Sequence[tuple[int, ClipTest]], config: Config, catalogue: Catalogue, given: str, faults: Faults
) -> list[Learned]:
    """What one-way clips that were pulled upwards hold; the least of all that may be used decides.

    Parameters
    ----------
    tests : sequence of (int, ClipTest)
        Each with its line.
    config : Config
        What it takes for what they hold, and which fixings may be used.
    catalogue : Catalogue
        The clips.
    given : str
        The file, for faults.
    faults : Faults
        Gets items that are no one-way clips of the catalogue, and tests of too few.
    """
    before = len(faults.found)
    known = {item.id: item for item in catalogue.fixings}
    # As the catalogue has them: what is kept of them there must not hold less than what is asked of it.
    as_kept = ((line, one.item, float(f"{one.pull_n:.6g}")) for line, one in tests)
    pulls = _by_item(as_kept, list(known), given, faults)
    for name, found in pulls.items():
        item = known.get(name)
        if item is not None and item.holds != "down":
            faults.add(given, f"line {found[0][0]}, item", f'"{name}" holds "{item.holds}"; tested are one-way clips')
        elif item is not None and len(found) < LEAST_TESTS:
            sentence = (
                f'{many(len(found), "pull", "are")} too few of "{name}"; {LEAST_TESTS} or more are wanted, better ten'
            )
            faults.add(given, f"line {found[0][0]}", sentence)
    if len(faults.found) > before:
        return []
    held = {name: characteristic_n([pull for _, pull in found]) for name, found in pulls.items()}
    least = _least_n(held, config, catalogue)
    return [_hold_down(name, found, held[name], config, known.get(name), least) for name, found in pulls.items()]


def _least_n(held: dict[str, float], config: Config, catalogue: Catalogue) -> float | None:
    """What the least of the one-way clips that may be used holds; None where none of those was tested [N].

    Of clips that were not tested their row in the catalogue counts, unless the config says what clips hold: then nobody
    trusts those.
    """
    may = [item for item in catalogue.fixings if not config.fixings.use or item.id in config.fixings.use]
    tested = [held[item.id] for item in may if item.id in held]
    explicit = "hold_down_n" in config.undulation.model_fields_set
    others = [held_down_n(item) for item in may if item.id not in held and not explicit]
    return min([*tested, *(pull for pull in others if pull is not None)]) if tested else None


def _hold_down(
    name: str,
    found: list[tuple[int, float]],
    held_n: float,
    config: Config,
    item: FixingItem | None,
    least_n: float | None,
) -> Learned:
    was = None if item is None else held_down_n(item)
    told = config.undulation.hold_down_n if was is None else was
    pulls = " ".join(f"{pull:.6g}" for _, pull in found)
    changes = [Change("fixings", f"{name}|hold_down_tests_n", pulls)]
    if least_n is not None:
        changes.append(Change("", "undulation.hold_down_n", least_n))
    sentence = (
        f'One-way clips "{name}" hold {held_n:.1f} N upwards, as all but 5 % of them do, by {_range(found)}; it was '
        f"{told:g} N."
    )
    return Learned(
        "hold-down",
        f"fixings.{name}",
        "N",
        told,
        held_n,
        None,
        len(found),
        taken=True,
        sentence=sentence,
        changes=tuple(changes),
    )


def learn_from_pull_outs(
    tests: Sequence[tuple[int, PullOutTest]], config: Config, catalogue: Catalogue, given: str, faults: Faults
) -> list[Learned]:
    """At what pull posts come out of this ground.

    Parameters
    ----------
    tests : sequence of (int, PullOutTest)
        Each with its line.
    config : Config
        Its posts, and the factor that stays on the pull.
    catalogue : Catalogue
        The posts.
    given : str
        The file, for faults.
    faults : Faults
        Gets items that are no posts of the catalogue, and tests of too few.
    """
    before = len(faults.found)
    known = {item.id: item for item in catalogue.posts}
    pulls = _by_item(((line, one.item, one.pull_n) for line, one in tests), list(known), given, faults)
    named = {name: found for name, found in pulls.items() if name in known}
    for name, found in named.items():
        if len(found) < LEAST_PULLS:
            sentence = f'{many(len(found), "pull", "are")} too few on "{name}"; {LEAST_PULLS} or more are wanted'
            faults.add(given, f"line {found[0][0]}", sentence)
    if len(faults.found) > before:
        return []
    posts = config.posts
    chosen = cheapest_post(catalogue, "intermediate", posts.intermediate_item, posts.height_out_m)
    learned = []
    for name, found in named.items():
        held = characteristic_n([pull for _, pull in found])
        changes = [Change("posts", f"{name}|pull_out_n", round(held, 1))]
        own = chosen is not None and chosen.id == name and posts.post_pull_out_n is not None
        if own:
            changes.append(Change("", "posts.post_pull_out_n", round(held, 1)))
        was = posts.post_pull_out_n if own else known[name].pull_out_n
        unit = other_unit(held / was) if was else ""
        sentence = (
            f'Posts "{name}" withstand {held:.0f} N, as all but 5 % of them do, by {_range(found)}; it was {was:g} N'
            f"{unit}. posts.pull_out_factor = {posts.pull_out_factor:g} stays on it."
        )
        learned.append(
            Learned(
                "pull-out",
                f"posts.{name}",
                "N",
                was,
                held,
                None,
                len(found),
                sentence=sentence,
                taken=True,
                changes=tuple(changes),
                off=bool(unit),
            )
        )
    return learned


def learn_from_minutes(
    timed: Sequence[tuple[int, TimedWork]], config: Config, catalogue: Catalogue, given: str, faults: Faults
) -> list[Learned]:
    """Minutes of one person on flat ground, by task or item.

    The sum of the minutes over the sum of what was done, each taken off what its slope adds. Its standard deviation is
    that of a ratio of sums: sqrt(n / (n - 1) * sum((m - r q)^2)) / sum(q).

    Parameters
    ----------
    timed : sequence of (int, TimedWork)
        Each with its line.
    config : Config
        What slope adds.
    catalogue : Catalogue
        The minutes so far.
    given : str
        The file, for faults.
    faults : Faults
        Gets tasks that the catalogue has no minutes for.

    References
    ----------
    Ratio of two totals and its error by residuals: C.-E. Sarndal, B. Swensson, J. Wretman, Model Assisted Survey
    Sampling, Springer 1992, 5.5 and 5.6 (not seen; as the manual of the package samplingVarEst has it).
    """
    known: dict[str, tuple[str, float, str]] = {}
    for file in reversed(_TIMED):
        for item in getattr(catalogue, file):
            known[item.id] = (file, item.minutes, getattr(item, "per", "piece"))
    groups = _by_item(((line, one.task, one) for line, one in timed), list(known), given, faults)
    return [
        _rate(name, [one for _, one in found], known[name], config) for name, found in groups.items() if name in known
    ]


def _rate(name: str, found: list[TimedWork], known: tuple[str, float, str], config: Config) -> Learned:
    file, was, per = known
    steep = slope_factor(np.array([one.slope_pct for one in found]), config.work)
    minutes = np.array([one.minutes * one.people for one in found]) / steep
    done = np.array([one.quantity for one in found]) / (100.0 if per == "100 m of wire" else 1.0)
    value = float(minutes.sum() / done.sum())
    count = len(found)
    sd = None
    if count > 1:
        sd = float(np.sqrt(count / (count - 1.0) * ((minutes - value * done) ** 2).sum()) / done.sum())
    spread = f" \N{PLUS-MINUS SIGN} {sd:.2g}" if sd is not None else " (timed once: how sure that is, nobody knows)"
    taken = not was or was / _MOST_TIMES <= value <= was * _MOST_TIMES
    stays = f"it was {was:g}." if taken else f"not taken, so it stays at {was:g}: is it in another unit?"
    sentence = (
        f'"{name}" takes {value:.3g}{spread} minutes of one person on flat ground for each {per}, by '
        f"{many(count, 'timing')}; {stays}"
    )
    changes = (Change(file, f"{name}|minutes", round(value, 4)),) if taken else ()
    place = f"{file}.{name}"
    return Learned("minutes", place, "min", was, value, sd, count, taken, sentence, changes, off=not taken)


def _range(found: Sequence[tuple[int, float]]) -> str:
    """How many pulls, and from which to which."""
    pulls = [pull for _, pull in found]
    return f"{many(len(pulls), 'pull')} of {min(pulls):g} to {max(pulls):g} N"


def _by_item(
    rows: Iterable[tuple[int, str, _Row]], known: list[str], given: str, faults: Faults
) -> dict[str, list[tuple[int, _Row]]]:
    """Rows by the item that they name; an unknown one is told once."""
    found: dict[str, list[tuple[int, _Row]]] = {}
    for line, name, value in rows:
        if name not in found and name not in known:
            sentence = f'the catalogue has no "{name}"{nearest(name, known)}'
            faults.add(given, f"line {line}", sentence)
        found.setdefault(name, []).append((line, value))
    return found
