"""The table that compares sets of fixings, of every block and of all together."""

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
import pandas as pd

from wirerun.model.clips import FixingOption
from wirerun.settings import Catalogue
from wirerun.settings.catalogue import tools_of
from wirerun.settings.fixing_item import FixingItem
from wirerun.tables import FIXING_OPTIONS, conform, empty

_ADDED: Final = ("price", "hours", "removal_hours", "cost", "cost_per_year")


def fixing_options_table(
    blocks: Sequence[tuple[str, float, tuple[FixingOption, ...]]], catalogue: Catalogue
) -> pd.DataFrame:
    """`tables.FIXING_OPTIONS` of all blocks; sets of which a fixing is not used are left out.

    Parameters
    ----------
    blocks : sequence of (block_id, area in hectares, its options)
        As planned.
    catalogue : Catalogue
        Names, tools and what else it says of fixings.
    """
    made = [_lines(block_id, area_ha, options, catalogue) for block_id, area_ha, options in blocks]
    if len(blocks) > 1:
        together = _together([options for *_, options in blocks])
        made.append(_lines(None, sum(area for _, area, _ in blocks), together, catalogue))
    lines = [line for part in made for line in part]
    return conform(FIXING_OPTIONS, pd.DataFrame(lines)) if lines else empty(FIXING_OPTIONS)


def _together(blocks: Sequence[tuple[FixingOption, ...]]) -> tuple[FixingOption, ...]:
    """Options that every block has compared, summed; chosen where every block has chosen it."""
    by_set: dict[tuple[str, tuple[int, ...]], list[FixingOption]] = {}
    holders: dict[str, int] = {}
    for options in blocks:
        for holder in {option.holder for option in options}:
            holders[holder] = holders.get(holder, 0) + 1
        for option in options:
            by_set.setdefault((option.holder, option.kinds), []).append(option)
    return tuple(
        FixingOption(
            holder=holder,
            kinds=kinds,
            pieces=tuple(sum(each) for each in zip(*(one.pieces for one in same), strict=True)),
            unheld=tuple(sum(each) for each in zip(*(one.unheld for one in same), strict=True)),
            **{name: sum(getattr(one, name) for one in same) for name in _ADDED},
            chosen=all(one.chosen for one in same),
        )
        for (holder, kinds), same in by_set.items()
        if len(same) == holders[holder]
    )


def _lines(
    block_id: str | None, area_ha: float, options: Iterable[FixingOption], catalogue: Catalogue
) -> list[dict[str, object]]:
    used = [option for option in options if option.kinds and all(option.pieces)]
    lines = []
    for holder in dict.fromkeys(option.holder for option in used):
        ours = [option for option in used if option.holder == holder]
        # Of as many posts unheld, more pieces are more wires held.
        ours.sort(key=lambda one: (one.unheld[0], -sum(one.pieces), np.isnan(one.cost), one.cost, one.kinds))
        lines += [_line(block_id, number, area_ha, one, catalogue.fixings) for number, one in enumerate(ours, start=1)]
    return lines


def _line(
    block_id: str | None, number: int, area_ha: float, option: FixingOption, fixings: Sequence[FixingItem]
) -> dict[str, object]:
    items = [fixings[kind] for kind in option.kinds]
    unheld, up, down, side = option.unheld
    return {
        "block_id": block_id,
        "option": number,
        "kinds": " + ".join(item.id for item in items),
        "pieces": sum(option.pieces),
        "not_held": unheld,
        "price": option.price,
        "hours": option.hours,
        "cost_per_ha": option.cost / area_ha if area_ha else np.nan,
        "cost_per_year": option.cost_per_year,
        "tools": ", ".join(tools_of(*(item.tool for item in items))) or None,
        "net_safe": _yes(item.net_safe for item in items),
        "harvester_safe": _yes(item.harvester_safe for item in items),
        "removal_hours": option.removal_hours,
        "chosen": "yes" if option.chosen else "no",
        "holder": option.holder,
        "pieces_each": " + ".join(str(pieces) for pieces in option.pieces),
        "not_held_up": up,
        "not_held_down": down,
        "not_held_side": side,
        "skill": ", ".join(dict.fromkeys(item.skill for item in items if item.skill not in ("", "none"))) or None,
    }


def _yes(said: Iterable[bool | None]) -> str | None:
    """Whether all say yes; None where one does not say and none says no."""
    answers = list(said)
    return "no" if False in answers else None if None in answers else "yes"
