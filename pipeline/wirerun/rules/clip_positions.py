"""Which clip positions a post has for a wire. Placeholder until the one rule is merged."""

import numpy as np

from wirerun.arrays import IntArray
from wirerun.model.layout import PostHeights
from wirerun.settings import Config

_SAME_HEIGHT_M = 1e-6


def positions_on(config: Config, heights: PostHeights) -> IntArray:
    """Clip positions of each wire on each post, [wire, post]; 0 at end posts."""
    settings, ends = config.clips, heights.positions == 0
    count = np.ones((len(config.wires), len(heights.out_m)), dtype=np.int64)
    ids = [wire.id for wire in config.wires]
    moved = sorted(
        (w for w in config.wires if w.kind == "foliage" and w.holder == "clip"), key=lambda wire: wire.height_m
    )
    for number, wire in enumerate(moved):
        mine = ids.index(wire.id)
        if wire.lifts_m is not None:
            tops = np.unique([wire.height_m, *wire.lifts_m])
            count[mine] = (tops <= heights.out_m[:, None] + _SAME_HEIGHT_M).sum(axis=1)
            continue
        above = moved[number + 1].height_m if number + 1 < len(moved) else np.inf
        below = wire.height_m if number else -np.inf
        place = settings.lowest_m + settings.spacing_m * np.arange(settings.most)
        ours = (place >= below - _SAME_HEIGHT_M) & (place < above - _SAME_HEIGHT_M)
        count[mine] = (ours & (np.arange(settings.most) < heights.positions[:, None])).sum(axis=1)
    return np.where(ends, 0, np.maximum(count, 1))


def lift_heights(config: Config, heights: PostHeights) -> tuple[tuple[float, ...], ...]:
    """Heights that each wire is lifted to."""
    out: list[tuple[float, ...]] = []
    for wire in config.wires:
        if wire.kind != "foliage":
            out.append(())
            continue
        if wire.lifts_m is not None:
            wanted = wire.lifts_m
        else:
            above = [o.height_m for o in config.wires if o.kind == "foliage" and o.height_m > wire.height_m]
            positions = (config.clips.lowest_m + config.clips.spacing_m * step for step in range(config.clips.most))
            wanted = tuple(p for p in positions if wire.height_m < p < min(above, default=np.inf))
        out.append(tuple(h for h in wanted if abs(h - wire.height_m) > 1e-3))
    return tuple(out)
