"""What chains of all wires say, laid out by wire, post and row."""

from collections.abc import Sequence

import numpy as np

from wirerun.mechanics.chain import Chain
from wirerun.model.layout import Posts
from wirerun.model.wires import InState, RowEnds
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
