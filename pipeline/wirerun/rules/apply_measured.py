"""A config and a catalogue with what was measured in the place of what was assumed."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from wirerun.measurements import Change, Learned
from wirerun.settings import Catalogue, Config


def with_measured(config: Config, catalogue: Catalogue, learned: Iterable[Learned]) -> tuple[Config, Catalogue]:
    """Config and catalogue with every value that is taken; settings of single blocks stay.

    Parameters
    ----------
    config : Config
        As written.
    catalogue : Catalogue
        As read, fixings driven as the config asks.
    learned : iterable of Learned
        What was measured.
    """
    for one in learned:
        for change in one.changes if one.taken else ():
            if change.file:
                catalogue = _in_catalogue(catalogue, change)
            else:
                config = _in_config(config, change)
    return config, catalogue


def _in_config(config: Config, change: Change) -> Config:
    section, name = change.place.split(".")
    changed = getattr(config, section).model_copy(update={name: change.value})
    return config.model_copy(update={section: changed})


def _in_catalogue(catalogue: Catalogue, change: Change) -> Catalogue:
    item, column = change.place.split("|")
    rows = tuple(
        row.model_copy(update={column: change.value}) if row.id == item else row
        for row in getattr(catalogue, change.file)
    )
    changed: dict[str, Any] = {change.file: rows}
    return replace(catalogue, **changed)
