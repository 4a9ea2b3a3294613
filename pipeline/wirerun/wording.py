"""Numbers and plurals as a person reads them, in one manner everywhere."""

from typing import Final, SupportsInt

from wirerun.rounding import rounded

#: Between thousands, as ISO 80000-1 has it; narrow and not to be broken at.
THIN_SPACE: Final = "\N{NARROW NO-BREAK SPACE}"


def number(value: float, decimals: int = 0) -> str:
    """Number with its thousands apart.

    >>> number(91652.4).replace(THIN_SPACE, "_")
    '91_652'
    >>> number(-1234.567, 2).replace(THIN_SPACE, "_")
    '-1_234.57'
    """
    return f"{rounded(value, decimals):,.{decimals}f}".replace(",", THIN_SPACE)


def plural(count: SupportsInt, thing: str) -> str:
    """Return the thing alone, in the singular or the plural.

    >>> plural(1, "row"), plural(0, "row")
    ('row', 'rows')
    """
    return thing if int(count) == 1 else f"{thing}s"


_IRREGULAR: Final = {"are": "is", "were": "was", "have": "has", "do not": "does not"}


def many(count: SupportsInt, thing: str, do: str = "") -> str:
    """Count and thing, and what it does, in the singular or the plural.

    >>> many(1, "row"), many(2, "row"), many(1, "post", "are"), many(3, "line", "lie"), many(1, "line", "lie")
    ('1 row', '2 rows', '1 post is', '3 lines lie', '1 line lies')

    Parameters
    ----------
    count : int
        How many.
    thing : str
        What, in the singular.
    do : str, optional
        What they do, in the plural.
    """
    one = int(count) == 1
    verb = _IRREGULAR.get(do, f"{do}s") if one and do else do
    return " ".join(filter(None, (number(int(count)), plural(count, thing), verb)))
