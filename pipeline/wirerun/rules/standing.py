"""What stands already: decided once, for hours, orders, costs, cards and map alike."""

from difflib import get_close_matches
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, IntArray
from wirerun.errors import SettingError
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import Posts
from wirerun.model.standing import Standing
from wirerun.settings import Config, StandingSettings

#: A fixing so near to where a wire needs one is the one it needs [m]. Choice: twice what a marking stick is off.
SAME_HEIGHT_M: Final = 0.02
_PLACE: Final = "standing.posts"


def standing_posts(posts: Posts, surveyed: BoolArray | None, settings: StandingSettings) -> BoolArray:
    """Whether each post stands, [post].

    Parameters
    ----------
    posts : Posts
        Of one block.
    surveyed : [post] or None
        Which of the surveyed posts stand; None where posts were not surveyed.
    settings : StandingSettings
        All posts, none, or the posts named.

    Raises
    ------
    SettingError
        If a post of this block is named that the plan does not have.
    """
    if surveyed is not None:
        return surveyed
    if isinstance(settings.posts, bool | str):
        return np.full(len(posts), settings.posts is True)
    mine = [name for name in settings.posts if name.startswith(f"{posts.block_id}-")]
    known = set(posts.post_id.tolist())
    for name in mine:
        if name not in known:
            near = get_close_matches(name, list(known), n=1)
            meant = f"; did you mean {near[0]}?" if near else ""
            msg = f'the plan has no post "{name}"{meant}'
            raise SettingError(_PLACE, msg)
    return np.isin(posts.post_id.astype("U"), np.array(mine, dtype="U"))


def what_stands(posts: BoolArray, places: ClipPositions, pieces: IntArray, config: Config) -> Standing:
    """Everything of a block that stands, from the posts that do.

    Parameters
    ----------
    posts : [post]
        Whether each stands.
    places : ClipPositions
        Where the wires need clips.
    pieces : [wire, post]
        Clips and staples that the wires take in all, none at end posts.
    config : Config
        Wires, and what of them stands.
    """
    settings = config.standing
    there = np.array([settings.has_fixings_of(wire.id) for wire in config.wires], dtype=np.bool_)
    stands = pieces
    if settings.fixing_heights_m:
        lines = np.array([wire.lines for wire in config.wires], dtype=np.int64)[:, None]
        stands = np.minimum(pieces, lines * (places.own & at_standing_heights(places, settings)).sum(axis=2))
    return Standing(
        posts=posts,
        wires=np.array([wire.id in settings.wires for wire in config.wires], dtype=np.bool_),
        pieces=np.where(there[:, None] & posts, stands, 0),
        adjusters=settings.adjusters,
    )


def at_standing_heights(places: ClipPositions, settings: StandingSettings) -> BoolArray:
    """Which places for clips have a standing fixing, [place], where the config says at which heights these are."""
    heights = np.array(settings.fixing_heights_m)
    return np.asarray((np.abs(places.height_m[:, None] - heights) <= SAME_HEIGHT_M + 1e-9).any(axis=1))
