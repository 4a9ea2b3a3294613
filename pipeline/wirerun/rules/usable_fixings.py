"""Which fixings of a catalogue a config allows, what the cheapest costs with its work, and how many a post takes."""

from collections.abc import Iterable
from typing import Final, NamedTuple

import numpy as np

from wirerun.rules.clip_positions import clip_positions
from wirerun.settings import Config
from wirerun.settings.fixing_item import FixingItem, shut_out

_MINUTES: Final = 60.0


class Allowed(NamedTuple):
    """Whether a fixing is of those named in fixings.use, driven as asked, and safe for nets and for a harvester."""

    named: bool
    driven: bool
    net_safe: bool
    harvester_safe: bool

    @classmethod
    def by(cls, config: Config, item: FixingItem) -> "Allowed":
        """Return what a config says of a fixing."""
        return cls(
            named=not config.fixings.use or item.id in config.fixings.use,
            driven=item.driven != shut_out(config.fixings.driven),
            net_safe=item.net_safe or not config.clips.nets,
            harvester_safe=bool(item.harvester_safe) or not config.clips.harvester,
        )


def cheapest_with_work(items: Iterable[FixingItem], hour: float) -> float | None:
    """Price of the cheapest with its fasteners and its work at so much an hour; None where none has a price."""
    prices = (
        item.price + item.fasteners * (item.fastener_price or 0.0) + item.minutes * hour / _MINUTES
        for item in items
        if item.price is not None
    )
    return min(prices, default=None)


def pieces_of_a_post(config: Config) -> tuple[int, int]:
    """Clips and staples on one intermediate post of the config's height."""
    row, inner = np.zeros(3, dtype=np.int64), np.array([False, True, False])
    places = clip_positions(np.full(3, config.posts.height_out_m), config.clips, config.wires, row, inner)
    pieces = places.pieces(np.array([wire.lines for wire in config.wires], dtype=np.int64))[:, 1]
    clipped = np.array([wire.holder == "clip" for wire in config.wires])
    return int(pieces[clipped].sum()), int(pieces[~clipped].sum())
