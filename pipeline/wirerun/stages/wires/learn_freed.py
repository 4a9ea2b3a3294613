"""How much higher freed wires hang than computed, from heights that were read at posts."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.findings import Findings
from wirerun.measurements import Change, Learned
from wirerun.model.stood import Spot, Stood
from wirerun.settings.measured import FreedHeight, MeasuredSettings
from wirerun.stages.wires.end_give import end_give
from wirerun.stages.wires.let_down import let_down
from wirerun.wording import many

# Where both say that the wire lies this near to the ground, it lies, and tells nothing: choice. [m]
_LIES_M: Final = 0.05
# A value known so well is taken: choice, less than anybody sees of a wire in the grass. [m]
_SURE_M: Final = 0.05


def learn_from_freed(
    stood: Sequence[Stood], read: Sequence[tuple[Spot, FreedHeight]], settings: MeasuredSettings
) -> list[Learned]:
    """What heights of freed wires say: the mean of what they hang higher than computed, over the wires that were read.

    Wires differ from each other (a length cut too long, grass), posts of one wire hang together: so the mean is one of
    wires, and its error what the wires scatter.

    Parameters
    ----------
    stood : sequence of Stood
        The blocks with readings.
    read : sequence of (Spot, FreedHeight)
        Each with the post it was read at.
    settings : MeasuredSettings
        The error of a height.
    """
    config = stood[0].config
    place, unit, was = "states.freed_higher_m", "m", config.states.freed_higher_m
    lying = {
        each: _computed_m(stood[each[0]], each[1]) for each in {(spot.block, one.temperature_c) for spot, one in read}
    }
    computed = np.array([_at(stood, lying[spot.block, one.temperature_c], spot) for spot, one in read])
    seen = np.array([one.height_m for _, one in read])
    hangs = np.isfinite(computed) & ((computed > _LIES_M) | (seen > _LIES_M))
    if not hangs.any():
        sentence = f"{many(len(read), 'height', 'tell')} nothing: the wire lies on the ground there, as computed."
        return [Learned("freed wires", place, unit, was, None, None, len(read), taken=False, sentence=sentence)]
    keys = [(spot.block, spot.row, spot.wire) for spot, _ in read]
    number = {key: at for at, key in enumerate(dict.fromkeys(keys))}
    wire = np.array([number[key] for key in keys])[hangs]
    higher = (seen - computed)[hangs]
    each = np.bincount(wire, higher, len(number))[np.unique(wire)] / np.bincount(wire)[np.unique(wire)]
    value = float(each.mean())
    least = settings.height_error_m / np.sqrt(hangs.sum())
    # Of one wire it is not known how much another would differ: the scatter along it stands for that.
    scatter = float(each.std(ddof=1) / np.sqrt(len(each))) if len(each) > 1 else float(higher.std())
    sd = float(max(least, scatter))
    taken = bool(sd <= _SURE_M)
    used = max(round(value, 3), 0.0)
    stays = f"it was {was:g} m" if taken else f"too unsure, so it stays at {was:g} m: read more wires"
    below = "; that is lower, so 0 is taken" if taken and value < 0.0 else ""
    sentence = (
        f"Freed wires hang {100.0 * value:.1f} \N{PLUS-MINUS SIGN} {100.0 * sd:.1f} cm higher than computed, by "
        f"{many(int(hangs.sum()), 'height')} of {many(len(each), 'wire')}{below}; {stays}."
    )
    changes = (Change("", place, used),) if taken else ()
    return [Learned("freed wires", place, unit, was, value, sd, int(hangs.sum()), taken, sentence, changes)]


def _computed_m(block: Stood, celsius: float) -> FloatArray:
    """Height of the freed wires above the ground at each post, at the temperature of a reading, [wire, post] [m]."""
    posts, config = block.posts, block.config
    states = config.states.model_copy(update={"winter_c": celsius})
    _, drop = let_down(
        posts,
        block.above_m,
        block.strung.cut_m,
        end_give(posts, config.wires, config.posts),
        np.zeros((len(config.wires), len(posts.rows)), dtype=np.bool_),
        config.model_copy(update={"states": states}),
        Findings(),
    )
    return drop.post_m


def _at(stood: Sequence[Stood], lying_m: FloatArray, spot: Spot) -> float:
    return float(lying_m[spot.wire, stood[spot.block].posts.first[spot.row] + spot.place])
