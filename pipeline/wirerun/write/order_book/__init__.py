"""The order as a workbook: what to ask quotes for and to fill them in, what the job costs with them, ends and coils.

`write_order` writes it; the other modules are its sheets. What is counted, chosen or priced comes from the tables; the
formulas only add up and put in a quote where one is filled in.
"""

from wirerun.write.order_book.workbook import write_order

__all__ = ["write_order"]
