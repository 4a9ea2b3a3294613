"""The field cards: one PDF that a crew carries, zone by zone and row by row.

`write_cards` writes it; the rest of the package is its parts. Measures on the paper are millimetres from the sheet's
top left corner, y downwards; sizes of letters are points.
"""

from wirerun.write.cards.document import write_cards

__all__ = ["write_cards"]
