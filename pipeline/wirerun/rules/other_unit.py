"""Whether a measured force was read in another unit than newtons."""

from typing import Final

_NEWTONS: Final = (("kilograms", 9.80665), ("pounds", 4.44822))
# So far may the truth be off what was expected; between the two units it leaves no gap. Choice.
_WITHIN: Final = 1.5


def other_unit(share: float) -> str:
    """Say in which unit a force was read that is such a share of what was expected; empty where none explains it.

    >>> other_unit(0.1), other_unit(0.22), other_unit(0.8)
    ('; in kilograms, as it seems: 9.81 N each', '; in pounds, as it seems: 4.45 N each', '')
    """
    for name, newtons in _NEWTONS:
        if 1.0 / _WITHIN < share * newtons < _WITHIN:
            return f"; in {name}, as it seems: {newtons:.2f} N each"
    return ""
