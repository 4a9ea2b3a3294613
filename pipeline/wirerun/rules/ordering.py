"""What is ordered together, and in which packs."""

from typing import Final

from wirerun.arrays import FloatArray, IntArray
from wirerun.rounding import half_up

#: With what each kind is ordered where the catalogue names no supplier, in the order in which it is listed. *Choice*:
#: posts with what holds them, wire, and all the small things in one, as merchants keep them.
SUPPLIES: Final = {
    "post": "posts and ends",
    "end assembly": "posts and ends",
    "wire": "wire",
    "clip": "fittings",
    "staple": "fittings",
    "fastener": "fittings",
    "wire end": "fittings",
    "adjuster": "fittings",
    "tool": "tools",
}
# Prices have four decimals at most: counted in hundredths of a cent they are whole, and no product of them is off.
_PARTS: Final = 10_000


def packs_for(pieces: IntArray, pack: IntArray) -> IntArray:
    """Packs that hold so many pieces, [item]."""
    return -(-pieces // pack)


def money(pieces: IntArray, unit_price: FloatArray) -> FloatArray:
    """What so many pieces cost at the price of one, to the cent, halves up; NaN where there is no price, [item]."""
    units = half_up(_PARTS * unit_price)
    return half_up(pieces * units / _PARTS, 2)
