"""The cases of a study, each with its config, and the rules that rows are held against."""

from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from itertools import product
from math import prod
from typing import Any, Final

import numpy as np
import shapely
from pydantic import ValidationError
from pyproj import Geod

from wirerun.errors import Faults
from wirerun.model.study import Case
from wirerun.read.catalogue import read_rows
from wirerun.read.plain_file import plain_file
from wirerun.read.setting_faults import tell
from wirerun.records import Inputs
from wirerun.settings import Config, broken_rules
from wirerun.settings.study import BEARING_KEY, RowRule
from wirerun.tables.study import MEASURES
from wirerun.wording import number

_EARTH: Final = Geod(ellps="WGS84")
# Edges nearer than this in direction are one: choice.
_ALIKE_DEG: Final = 1.0
# A drawn edge may waver: parts of it that stay this near to a straight line are one. Choice.
_STRAIGHT_DEG: Final = 1e-5


def read_rules(config: Config, faults: Faults) -> tuple[RowRule, ...]:
    """Rules for the grade of rows, as the config names their file; none where it names none.

    Parameters
    ----------
    config : Config
        Its `study.rules`.
    faults : Faults
        Gets the faults.
    """
    given = config.study.rules
    real = None if given is None else plain_file(config.path(given), given, faults)
    if real is None or given is None:
        return ()
    return tuple(row for row in read_rows(real, given, RowRule, faults) if isinstance(row, RowRule))


def check_study(config: Config, faults: Faults) -> None:
    """Tell of measures and limits that there are not, and of directions that have no guide.

    Parameters
    ----------
    config : Config
        Its `study`.
    faults : Faults
        Gets the faults.
    """
    known = [column.name for column in MEASURES]
    for place, names in (("measures", config.study.measures), ("limits", config.study.limits)):
        for name in names:
            if name not in known:
                near = get_close_matches(name, known, n=1)
                meant = f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}"
                faults.add(config.file, f"study.{place}", f'"{name}" is no measure; {meant}')
    if config.study.turned == "guide" and config.rows.guide is None:
        faults.add(config.file, "study.directions", '"guide" needs a line: rows.guide is missing')
    if config.study.from_deg > config.study.to_deg:
        sentence = f"{config.study.from_deg:g} is above to_deg = {config.study.to_deg:g}"
        faults.add(config.file, "study.from_deg", sentence)
    for key, values in config.study.vary.items():
        if not values:
            faults.add(config.file, f"study.vary.{key}", "the list is empty; give at least one value")
        if key.split(".")[0] in ("study", "blocks", "base"):
            faults.add(config.file, f"study.vary.{key}", "this setting cannot be varied")


def study_cases(config: Config, inputs: Inputs, faults: Faults) -> list[Case]:
    """Cases of a study, the config as it stands first; with faults where a value will not do or they are too many.

    Parameters
    ----------
    config : Config
        With its `study`, which must be in order.
    inputs : Inputs
        What was read for it: blocks and guides have directions.
    faults : Faults
        Gets the faults.
    """
    settings = config.study
    axes: dict[str, Sequence[Any]] = dict(settings.vary)
    if settings.turned != "none" and BEARING_KEY not in axes:
        axes = {BEARING_KEY: _directions(config, inputs)} | axes
    count = prod(map(len, axes.values())) if settings.by == "grid" else sum(map(len, axes.values()))
    if count > settings.most_cases:
        sentence = f"{number(count)} cases are more than study.most_cases = {number(settings.most_cases)}"
        faults.add(config.file, "study", f'{sentence}; give fewer values, or vary one at a time (by = "one")')
        return []
    cases = [Case("C000", {key: _value_in(config, key) for key in axes}, config)]
    for values in _combined(axes, config, by_grid=settings.by == "grid"):
        made = _config_with(config, values, faults)
        if made is not None:
            cases.append(Case(f"C{len(cases):03d}", values, made))
    return cases


def _combined(axes: Mapping[str, Sequence[Any]], config: Config, *, by_grid: bool) -> Iterator[dict[str, Any]]:
    if by_grid:
        for together in product(*axes.values()):
            yield dict(zip(axes, together, strict=True))
        return
    as_it_is = {key: _value_in(config, key) for key in axes}
    for key, values in axes.items():
        for value in values:
            yield as_it_is | {key: value}


def _directions(config: Config, inputs: Inputs) -> list[float]:
    """Directions to try, from 0 to below 180 unless the config's range goes on [deg]."""
    settings = config.study
    if settings.turned == "all":
        steps = int(np.floor((settings.to_deg - settings.from_deg) / settings.step_deg + 1e-9)) + 1
        return [round(settings.from_deg + step * settings.step_deg, 6) for step in range(steps)]
    if settings.turned == "guide":
        lines = [drawn.guide for drawn in inputs.drawn if drawn.guide is not None]
        ends = np.array([np.concatenate([line[0], line[-1]]) for line in lines]).reshape(-1, 4)
        return _unlike(_EARTH.inv(*ends.T)[0] if len(ends) else np.zeros(0))
    rings = [
        shapely.get_coordinates(shapely.simplify(ring, _STRAIGHT_DEG))
        for block in inputs.blocks
        for polygon in shapely.get_parts(block.area)
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    edges = np.concatenate([np.column_stack([ring[:-1], ring[1:]]) for ring in rings])
    azimuth, _, length = _EARTH.inv(*edges.T)
    return _unlike(np.asarray(azimuth)[np.asarray(length) >= settings.least_edge_m])


def _unlike(azimuth_deg: np.ndarray[Any, np.dtype[np.float64]]) -> list[float]:
    """Return directions from 0 to below 180, those within a degree of an earlier one left out [deg]."""
    kept: list[float] = []
    for direction in np.round(azimuth_deg % 180.0, 1) % 180.0:
        if all(abs((direction - other + 90.0) % 180.0 - 90.0) > _ALIKE_DEG for other in kept):
            kept.append(float(direction))
    return sorted(kept)


def _value_in(config: Config, key: str) -> object:
    """Return what the config has for a key; None where it has none, or there is no such key."""
    found: Any = config.model_dump()
    for part in key.split("."):
        if isinstance(found, list | tuple):
            found = next((one for one in found if isinstance(one, Mapping) and one.get("id") == part), None)
        else:
            found = found.get(part) if isinstance(found, Mapping) else None
    return found


def _config_with(config: Config, values: Mapping[str, Any], faults: Faults) -> Config | None:
    """Return the config with other values; None, with faults, where one will not do.

    A value holds for all blocks: what single blocks have of the same setting gives way.
    """
    written = config.model_dump(exclude_unset=True) | {"wires": [wire.model_dump() for wire in config.wires]}
    if BEARING_KEY in values:
        values = {"rows.layout": "parallel", **values}
    for key, value in values.items():
        if not _put(written, key.split("."), value):
            faults.add(config.file, f"study.vary.{key}", "there is no such wire in the config")
            return None
        for block in written.get("blocks", {}).values():
            _take_out(block, key.split("."))
    try:
        return Config.model_validate(written, context={"file": config.file, "folder": config.folder})
    except ValidationError as error:
        own = Faults()
        tell(error, written, config.file, own)
        for place, sentence in broken_rules(written):
            own.add(config.file, place, sentence)
        before = {(fault.place, fault.message) for fault in faults}
        for fault in own:
            if (f"study.vary, {fault.place}", fault.message) not in before:
                faults.add(config.file, f"study.vary, {fault.place}", fault.message)
        return None


def _put(written: Any, parts: list[str], value: object) -> bool:  # noqa: ANN401 - any part of a config
    """Put a value at its place; return False where a list has no entry of the name."""
    *into, last = parts
    for part in into:
        if isinstance(written, list):
            written = next((one for one in written if one.get("id") == part), None)
            if written is None:
                return False
        else:
            written = written.setdefault(part, {})
    if not isinstance(written, dict):
        return False
    written[last] = value
    return True


def _take_out(written: Any, parts: list[str]) -> None:  # noqa: ANN401 - any part of a config
    for part in parts[:-1]:
        written = written.get(part) if isinstance(written, dict) else None
    if isinstance(written, dict):
        written.pop(parts[-1], None)
