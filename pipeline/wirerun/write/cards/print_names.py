"""What the cards call a block whose id they cannot print: B and its number in the plan, in every id it is part of."""

import re
from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import pandas as pd

from wirerun.findings import Finding
from wirerun.records import Plan
from wirerun.write.cards.letters import can_print


def print_names(block_ids: Sequence[str]) -> dict[str, str]:
    """Return the blocks that cannot be printed by their ids, each with the name that is printed instead.

    The name is B and the block's number in the plan, or the next number that no block is called by.
    """
    taken, names = set(block_ids), dict[str, str]()
    for number, block_id in enumerate(block_ids, start=1):
        if can_print(block_id):
            continue
        free = number
        while (name := f"B{free:02d}") in taken:
            free += 1
        taken.add(name)
        names[block_id] = name
    return names


def not_printed(block_ids: Sequence[str]) -> list[Finding]:
    """Return a finding for each block that the cards call by another name."""
    return [
        Finding("block-not-printed", block_id, f"The field cards cannot print this id; they call the block {name}.")
        for block_id, name in print_names(block_ids).items()
    ]


def as_printed(plan: Plan) -> Plan:
    """Return the plan as the cards tell it: blocks, and all that is called after them, by names that can be printed."""
    names = print_names(plan.blocks["block_id"].tolist())
    if not names:
        return plan
    starts = re.compile(rf"^(?:{'|'.join(map(re.escape, sorted(names, key=len, reverse=True)))})(?=-|$)")

    def called(value: object) -> object:
        return starts.sub(lambda found: names[found[0]], value) if isinstance(value, str) else value

    changed: dict[str, Any] = {}
    for field in fields(plan):
        table = getattr(plan, field.name)
        if isinstance(table, pd.DataFrame):
            texts = [name for name in table.columns if pd.api.types.is_string_dtype(table[name])]
            changed[field.name] = table.assign(**{name: table[name].map(called) for name in texts})
    changed["frames"] = tuple(replace(note, block_id=str(called(note.block_id))) for note in plan.frames)
    own = {names.get(block_id, block_id): setting for block_id, setting in plan.config.blocks.items()}
    changed["config"] = plan.config.model_copy(update={"blocks": own})
    return replace(plan, **changed)
