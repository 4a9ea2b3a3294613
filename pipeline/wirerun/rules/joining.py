"""How many posts without need two sections may take in between them: as many as cost less than changing kinds twice."""

from collections.abc import Iterable
from typing import Final

import numpy as np

from wirerun.findings import Findings
from wirerun.rules.clip_positions import clip_positions
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import FixingItem, PostItem
from wirerun.wording import many

#: Rate of the catalogue: laying one kind of clip aside and taking up another.
CHANGE: Final = "change kind"
_MINUTES: Final = 60.0
# Into the section's kind and out of it again.
_CHANGES: Final = 2


def posts_worth_joining(config: Config, catalogue: Catalogue, post: PostItem | None, notes: Findings | None) -> int:
    """Most posts without need between two sections that are cheaper with two-way clips than with a change of kind.

    A post taken in costs what two-way clips cost more than one-way ones, in price and minutes; one left out costs the
    crew two changes of kind. Of each way the cheapest clip of the catalogue that the config allows is taken.

    Parameters
    ----------
    config : Config
        Wires and clips, which fixings, what an hour costs; and `undulation.join_posts`, which the answer never passes.
    catalogue : Catalogue
        Prices and minutes, and the rate "change kind"; 0 where it has none of them.
    post : PostItem or None
        The intermediate post, 1.9 m or so out of the ground.
    notes : Findings or None
        Hears where no post is worth it.
    """
    most = config.undulation.join_posts
    if not most or post is None:
        return 0
    usable = [item for item in catalogue.fixings if _may_be_used(item, config) and item.fixes_to == post.material]
    two_way = _cheapest((item for item in usable if item.holds == "both" and item.lets_move), config)
    one_way = _cheapest((item for item in usable if item.holds == "down"), config)
    minutes = next((rate.minutes for rate in catalogue.rates if rate.id == CHANGE), 0.0)
    change = _CHANGES * minutes / _MINUTES * (config.work.labour_per_hour or 0.0)
    if two_way is None or one_way is None:
        return 0
    dearer = _clips_of_a_post(config) * (two_way - one_way)
    if dearer <= 0.0:
        return most
    worth = min(most, int(change / dearer + 1e-9))
    if worth < most and notes is not None:
        taken = f"gaps of up to {many(worth, 'post')} are taken in" if worth else "none is taken in"
        notes.note(
            "sections-apart",
            f"A post without need between two undulating sections would cost {dearer:.2f} more with two-way clips; two "
            f"changes of kind cost {change:.2f}: {taken} (undulation.join_posts = {most}).",
        )
    return worth


def _may_be_used(item: FixingItem, config: Config) -> bool:
    shut_out = {"hand": "air", "air": "hand", "any": ""}[config.fixings.driven]
    named = not config.fixings.use or item.id in config.fixings.use
    safe = (item.net_safe or not config.clips.nets) and (bool(item.harvester_safe) or not config.clips.harvester)
    return named and safe and item.driven != shut_out


def _cheapest(items: Iterable[FixingItem], config: Config) -> float | None:
    """Price and labour of the cheapest piece; None where none has a price."""
    hour = config.work.labour_per_hour or 0.0
    costs = [
        item.price + item.fasteners * (item.fastener_price or 0.0) + item.minutes / _MINUTES * hour
        for item in items
        if item.price is not None
    ]
    return min(costs, default=None)


def _clips_of_a_post(config: Config) -> int:
    """Clips on a post of the usual height, of wires held by clips."""
    wires = config.wires
    places = clip_positions(
        np.full(3, config.posts.height_out_m), config.clips, wires, np.zeros(3, dtype=np.int64), np.arange(3) == 1
    )
    clipped = np.array([wire.holder == "clip" for wire in wires])
    pieces = places.pieces(np.array([wire.lines for wire in wires], dtype=np.int64))
    return int(pieces[clipped, 1].sum())
