"""Which of the compared sets of fixings a person is shown, and what is said of them: on the cards and on the map."""

from collections.abc import Mapping
from typing import Final

import pandas as pd

from wirerun.records import Plan
from wirerun.tables import as_lines

#: What stands over the wires of each holder.
HOLDERS: Final = {"clip": "Wires in clips", "staple": "Wires under staples"}
_MOST_SHOWN: Final = 8


def shown_options(plan: Plan) -> dict[str, pd.DataFrame]:
    """The options worth a look, by holder: of all blocks together, or of the only one, chosen and cheapest first.

    Parameters
    ----------
    plan : Plan
        Its `fixing_options`.
    """
    options = plan.fixing_options
    whole = options[options["block_id"].isna()]
    if whole.empty:
        whole = options
    found = {}
    for holder in HOLDERS:
        ours = whole[whole["holder"] == holder]
        if len(ours):
            chosen_first = (ours["chosen"] != "yes").rename("later")
            ours = ours.assign(later=chosen_first).sort_values(["later", "option"], kind="stable")
            found[holder] = ours.head(_MOST_SHOWN).drop(columns="later")
    return found


def choices_by_block(plan: Plan) -> list[tuple[str, str, str]]:
    """What each block takes: block, holder's title, kinds with their pieces."""
    options = plan.fixing_options
    chosen = options[(options["chosen"] == "yes") & options["block_id"].notna()]
    return [(one["block_id"], HOLDERS[one["holder"]], with_pieces(one)) for one in as_lines(chosen)]


def with_pieces(option: Mapping[str, object]) -> str:
    """Kinds with their pieces: "120 x open clip + 40 x closing clip"."""
    together = [str(option[name]) for name in ("kinds", "pieces_each")]
    kinds, pieces = (words.split(" + ") for words in together)
    if len(kinds) != len(pieces):  # a kind whose name has a plus in it
        return "{} ({})".format(*together)
    return " + ".join(f"{many} \N{MULTIPLICATION SIGN} {kind}" for many, kind in zip(pieces, kinds, strict=True))
