"""A comparison in words, for the end of a command."""

from collections.abc import Iterator
from math import isnan
from typing import Final

from wirerun.errors import printable
from wirerun.model.comparison import Against, Comparison
from wirerun.tables import CHANGES, as_lines
from wirerun.tables.compare import TO_ORDER
from wirerun.wording import number

# On a terminal; the page and the tables have them all.
_MOST_SETTINGS: Final = 12
_NAME: Final = 32
_WIDE: Final = 12


def comparison_words(comparison: Comparison) -> str:
    """Return what differs between plans: settings, lines by id, and the totals that are not the same."""
    lines = [f"{letter}  {plan.folder}" for letter, plan in comparison.plans.items()]
    first = next(iter(comparison.plans))
    for one in comparison.against:
        lines += ["", *_against(first, one)]
    if not comparison.equal:
        lines += ["", *_totals(comparison)]
    return "\n".join(printable(line) for line in lines)


def _against(first: str, one: Against) -> Iterator[str]:
    if one.equal:
        yield f"{one.letter} is the same plan as {first}: no line of any table differs."
    for place, before, after in one.settings[:_MOST_SETTINGS]:
        yield f"setting {place}: {before} > {after}"
    if len(one.settings) > _MOST_SETTINGS:
        yield f"and {len(one.settings) - _MOST_SETTINGS} more settings"
    for name in one.inputs:
        yield f"not the same file: {name}"
    for name in one.uncompared:
        yield f"not compared: {name}, which only one of the two plans has"
    if one.equal:
        return
    yield f"{f'{first} to {one.letter}':<16}{'same':>9}{''.join(f'{change:>9}' for change in CHANGES)}"
    for table in one.tables:
        if len(table.lines):
            counts = "".join(f"{number(table.count(change)):>9}" for change in CHANGES)
            yield f"{table.table.replace('_', ' '):<16}{number(table.same):>9}{counts}"
    for table in one.tables:
        if table.uncompared:
            yield f"not compared in {table.table}: {', '.join(table.uncompared)}, which only one of the two plans has"


def _totals(comparison: Comparison) -> Iterator[str]:
    letters = list(comparison.plans)
    first, *others = letters
    # Of three and more, eighty columns hold no differences beside the values.
    heads = [*letters, f"{others[0]} - {first}"][: len(letters) + (len(others) == 1)]
    yield f"{'Totals that differ':<{_NAME}}{''.join(f'{head:>{_WIDE}}' for head in heads)}"
    for line in as_lines(comparison.totals):
        values = [float(line[letter]) for letter in letters]
        if len({str(value) for value in values}) == 1 or str(line["what"]).startswith(TO_ORDER):
            continue
        whole = all(isnan(value) or value.is_integer() for value in values)
        cells = [_figure(value, whole=whole) for value in values]
        cells += [_figure(values[1] - values[0], whole=whole, sign=True)] if len(others) == 1 else []
        what = f"{line['what']} [{line['unit']}]" if line["unit"] else str(line["what"])
        here = "".join(f"{cell:>{_WIDE}}" for cell in cells)
        if len(what) > _NAME:
            yield what
        yield f"{what if len(what) <= _NAME else '':<{_NAME}}{here}"
    yield "What to order, item by item, is on the page and in totals.csv."


def _figure(value: float, *, whole: bool, sign: bool = False) -> str:
    if isnan(value):
        return "-"
    return f"{'+' if sign and value > 0 else ''}{number(value, 0 if whole else 2)}"
