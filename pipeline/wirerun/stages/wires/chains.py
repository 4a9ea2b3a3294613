"""What chains of all wires say, laid out by wire, post and row."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.mechanics.chain import Chain, solve_chain, unstretched_totals
from wirerun.mechanics.give import Give
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.mechanics.supports import Supports
from wirerun.model.layout import Posts
from wirerun.model.wires import InState, RowEnds
from wirerun.rules.wire import hung, wire_of
from wirerun.settings import WireSettings
from wirerun.state import State


def in_state(state: State, posts: Posts, chains: Sequence[Chain]) -> InState:
    """Loads at intermediate posts and forces at end posts of one state, a chain for each wire."""
    held = ~posts.is_end
    return InState(
        state,
        load_n=np.stack([np.where(held, chain.clip_load_n, np.nan) for chain in chains]),
        tension_n=np.stack([np.where(held, chain.support_tension_n, np.nan) for chain in chains]),
        ends=row_ends(posts, chains),
    )


def row_ends(posts: Posts, chains: Sequence[Chain]) -> RowEnds:
    """Forces at the first and the last post of every row, a chain for each wire."""
    return RowEnds(
        start_n=np.stack([chain.support_tension_n[posts.first] for chain in chains]),
        far_n=np.stack([chain.support_tension_n[posts.last] for chain in chains]),
        start_pull_n=np.stack([chain.spans.horizontal_n[posts.first_span] for chain in chains]),
        far_pull_n=np.stack([chain.spans.horizontal_n[posts.last_span] for chain in chains]),
    )


class Moved(NamedTuple):
    """One wire with its intermediates at another height, and the length at which it has the set tension there.

    Attributes
    ----------
    chain : Chain
        At its own length, or let out to the set tension.
    back_m : [row]
        Unstretched length with the set tension. [m]
    """

    chain: Chain
    back_m: FloatArray


def moved(
    posts: Posts,
    wire: WireSettings,
    height_m: float,
    cut_m: FloatArray,
    let_out: BoolArray,
    change_k: float,
    give: Give,
) -> Moved:
    """One wire with its intermediates at another height; its ends stay at its own, or go along.

    Parameters
    ----------
    posts : Posts
        Where it runs.
    wire : WireSettings
        The wire.
    height_m : float
        Height on the intermediate posts. [m]
    cut_m : [row]
        Unstretched length as strung. [m]
    let_out : [row]
        Whether it is let out until the set tension is back, at the temperature of stringing.
    change_k : float
        Its temperature less that of stringing. [K]
    give : Give
        How the end posts give way to it.
    """
    supports, spec = hung(posts, wire, height_m), wire_of(wire)
    back = back_to_tension(supports, wire)
    length = np.where(let_out, back, cut_m)
    return Moved(chain_at_length(supports, spec, warmed(spec, length, change_k), give).chain, back)


def back_to_tension(supports: Supports, wire: WireSettings) -> FloatArray:
    """Unstretched length of a wire over its supports with the set tension at each row's first, [row] [m]."""
    return unstretched_totals(solve_chain(supports, wire_of(wire), wire.tension_n))
