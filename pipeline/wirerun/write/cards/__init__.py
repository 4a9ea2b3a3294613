"""The field cards: one PDF that a crew carries, zone by zone and row by row.

`write_cards` writes it, `write_forms` the forms to measure by; the rest of the package is their parts. Measures on the
paper are millimetres from the sheet's top left corner, y downwards; sizes of letters are points.
"""

from wirerun.write.cards.document import write_cards
from wirerun.write.cards.field_forms import write_forms

__all__ = ["write_cards", "write_forms"]
