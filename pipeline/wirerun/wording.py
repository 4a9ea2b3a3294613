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


def spread(low: float, high: float, decimals: int = 0) -> str:
    """Least and greatest of some numbers, or the one that both are as they are read.

    >>> spread(240.2, 247.9), spread(556.8, 557.2), spread(6.24, 6.31, 1)
    ('240 to 248', '557', '6.2 to 6.3')
    """
    both = number(low, decimals), number(high, decimals)
    return both[0] if both[0] == both[1] else " to ".join(both)


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
