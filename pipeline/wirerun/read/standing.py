"""Which surveyed posts stand already, as the config tells it."""

from difflib import get_close_matches
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray
from wirerun.errors import Faults
from wirerun.findings import name_some
from wirerun.read.points import GivenPoints
from wirerun.settings import StandingSettings

_PLACE: Final = "standing.posts"


def which_stand(points: GivenPoints, settings: StandingSettings, config: str, faults: Faults) -> BoolArray:
    """Whether each surveyed post stands, [point].

    Parameters
    ----------
    points : GivenPoints
        As read.
    settings : StandingSettings
        All of them, those whose attribute has a value, or those named.
    config : str
        The config file, for faults of the setting.
    faults : Faults
        Gets names that no post has, an attribute that none has, a value that none of it has.
    """
    many = len(points.names)
    if isinstance(settings.posts, bool):
        return np.full(many, settings.posts)
    condition = settings.condition
    if condition is not None:
        return _with_value(points, condition, config, faults)
    wanted = dict.fromkeys(name for name in settings.posts if isinstance(name, str))
    known = set(points.names)
    for name in wanted:
        if name not in known:
            near = get_close_matches(name, [one for one in points.names if one], n=1, cutoff=0.5)
            meant = f'; did you mean "{near[0]}"?' if near else ""
            _tell(config, f'{points.file.given} has no post "{name}"{meant}', faults)
    return np.array([name in wanted for name in points.names], dtype=np.bool_)


def _with_value(points: GivenPoints, condition: tuple[str, str], config: str, faults: Faults) -> BoolArray:
    name, value = condition
    head = next((one for one in points.said if one.lower() == name.lower()), None)
    if head is None:
        _tell(config, f'the posts of {points.file.given} have no "{name}"; they have {name_some(points.said)}', faults)
        return np.zeros(len(points.names), dtype=np.bool_)
    cells = points.said[head]
    stands = np.array([cell.lower() == value.lower() for cell in cells], dtype=np.bool_)
    if len(stands) and not stands.any():
        there = name_some(f'"{cell}"' for cell in dict.fromkeys(cells))
        _tell(config, f'no post of {points.file.given} has {head} = "{value}"; they have {there}', faults)
    return stands


def _tell(config: str, sentence: str, faults: Faults) -> None:
    """Tell a fault once, though every block asks."""
    if not any(fault.place == _PLACE and fault.message == sentence for fault in faults.found):
        faults.add(config, _PLACE, sentence)
