"""What measurements change, in words for a terminal of 80 columns, and as JSON."""

import json
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import Any, Final

from wirerun.errors import printable
from wirerun.measurements import Difference, Weighed
from wirerun.wording import number

_WIDE: Final = 80
# Differences that are told; the rest in number.
_MOST: Final = 8


def measured_json(found: Iterable[Weighed]) -> str:
    """Return measurements and what they change as JSON."""
    return json.dumps([_plain(one) for one in found], indent=2, ensure_ascii=False)


def _plain(one: Weighed) -> dict[str, Any]:
    learned = one.learned
    told: dict[str, Any] = {"what": "all together"} if learned is None else asdict(learned)
    told.pop("changes", None)
    if one.differences is not None:
        told["order_changes_by"] = [
            {"what": each.what, "unit": each.unit, "before": each.before, "after": each.after, "ordered": each.ordered}
            for each in one.differences
        ]
    return told


def measured_words(found: Iterable[Weighed]) -> str:
    """Return what was measured, and what the order changes by, measurement by measurement."""
    return "\n".join(printable(line) for one in found for line in _lines(one))


def _lines(one: Weighed) -> Iterator[str]:
    learned = one.learned
    yield from _wrapped("All of it together:" if learned is None else learned.sentence, "", "  ")
    if one.differences is not None:
        yield from _wrapped(_change(one.differences), "  ", "  ")
    yield ""


def _wrapped(text: str, first: str, then: str) -> list[str]:
    return textwrap.wrap(text, _WIDE, initial_indent=first, subsequent_indent=then)


def _change(differences: Sequence[Difference]) -> str:
    """The order changes by ..., and what else is otherwise."""
    order = [_step(each) for each in differences if each.ordered]
    other = [_step(each) for each in differences if not each.ordered]
    more = f" and {len(order) - _MOST} more" if len(order) > _MOST else ""
    words = f"The order changes by {', '.join(order[:_MOST])}{more}." if order else "The order changes by nothing."
    return f"{words} Else: {', '.join(other)}." if other else words


def _step(each: Difference) -> str:
    change = each.after - each.before
    decimals = 0 if abs(change) >= 10.0 or change == round(change) else 1
    sign = "+" if change > 0.0 else "\N{MINUS SIGN}"
    unit = "" if each.unit in ("", "piece") else f"{each.unit} "
    of = "" if not unit or not each.ordered else "of "
    return f"{sign}{number(abs(change), decimals)} {unit}{of}{each.what}"
