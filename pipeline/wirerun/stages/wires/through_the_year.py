"""The wires through the year: cold and hot, and lifted from clip to clip."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Findings, name_some
from wirerun.mechanics.chain import Chain
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.model.clips import ClipPositions
from wirerun.model.layout import Posts
from wirerun.model.moved_wires import Lift, Lifts
from wirerun.model.wires import InState, RowEnds
from wirerun.rules.wire import hung, wire_of
from wirerun.settings import StateSettings, WireSettings
from wirerun.stages.wires.chains import in_state, moved, row_ends
from wirerun.stages.wires.end_give import EndGive
from wirerun.state import State
from wirerun.wording import many


def at_temperature(
    state: State,
    change_k: float,
    posts: Posts,
    cut_m: FloatArray,
    ends: EndGive,
    wires: tuple[WireSettings, ...],
    notes: Findings,
) -> InState:
    """Every wire at another temperature: the strung length, shorter or longer, over the same posts.

    Parameters
    ----------
    state : State
        Cold or hot.
    change_k : float
        Temperature less that of stringing. [K]
    posts : Posts
        Where the wires run.
    cut_m : [wire, row]
        Unstretched length as strung. [m]
    ends : EndGive
        How the end posts give way.
    wires : tuple of WireSettings
        The wire axis.
    notes : Findings
        Hears of rows whose wire hangs loose.
    """
    chains = []
    for wire, strung_m, give in zip(wires, cut_m, ends.together, strict=True):
        spec = wire_of(wire)
        found = chain_at_length(hung(posts, wire), spec, warmed(spec, strung_m, change_k), give)
        if found.too_long.any():
            rows = posts.rows.row_id[found.too_long]
            notes.note(
                "slack-wire", f"Wire {wire.id} hangs loose when {state} in {many(len(rows), 'row')}: {name_some(rows)}."
            )
        chains.append(found.chain)
    return in_state(state, posts, chains)


def cold_in_clips(frost: InState, up: InState, wires: tuple[WireSettings, ...]) -> InState:
    """The cold as clips and posts bear it: foliage wires on the coldest day with them up, fixed ones in the hard frost.

    What ends and knots bear stays that of the frost, as if all wires were up: somebody may be late.

    Parameters
    ----------
    frost, up : InState
        All wires at `states.cold_c`, and at `states.cold_up_c`.
    wires : tuple of WireSettings
        The wire axis.
    """
    foliage = np.array([wire.kind == "foliage" for wire in wires])[:, None]
    load, tension = (np.where(foliage, getattr(up, name), getattr(frost, name)) for name in ("load_n", "tension_n"))
    return InState(State.COLD, load, tension, frost.ends)


def lift(
    posts: Posts,
    cut_m: FloatArray,
    adjusted: BoolArray,
    ends: EndGive,
    wires: tuple[WireSettings, ...],
    states: StateSettings,
    places: ClipPositions,
    notes: Findings,
) -> tuple[InState, Lifts]:
    """Foliage wires moved to their other clips: lifted, and parked in winter where they are.

    On the end posts a wire stays fast at its own height, or its ends go along (`ends_move`). A row with an adjuster is
    let out until the set tension is back; any other keeps its length and gets tighter. Lifted wires are at the
    stringing temperature, parked ones at the coldest.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    cut_m : [wire, row]
        Unstretched length as strung. [m]
    adjusted : [wire, row]
        Whether the wire has an adjuster.
    ends : EndGive
        How the end posts give way.
    wires : tuple of WireSettings
        The wire axis.
    states : StateSettings
        Temperatures.
    places : ClipPositions
        Where clips stand on the posts, and which wire is moved to which.
    notes : Findings
        Hears what the posts next to the end posts bear.

    Returns
    -------
    state : InState
        Loads of the position that pulls up most; end forces the greatest of all positions.
    lifts : Lifts
        Each position by itself.
    """
    wide = (len(wires), len(posts))
    least, tension, most = (np.full(wide, np.nan) for _ in range(3))
    positions: list[Lift] = []
    forces = []
    winter_k = states.cold_c - states.stringing_c
    for number, wire in enumerate(wires):
        at_ends = [np.full((4, len(posts.rows)), np.nan)]
        for place in np.flatnonzero((places.lifted | places.winter)[number].any(axis=0)):
            use, change_k = ("winter", winter_k) if places.winter[number, :, place].any() else ("lifted", 0.0)
            there, height = places.used[number, :, place], float(places.height_m[place])
            chain = moved(posts, wire, height, cut_m[number], adjusted[number], change_k, ends.alone[number]).chain
            load = np.where(there & ~posts.is_end, chain.clip_load_n, np.nan)
            lower = (load < least[number]) | (np.isnan(least[number]) & ~np.isnan(load))
            tension[number] = np.where(lower, chain.support_tension_n, tension[number])
            least[number], most[number] = np.fmin(load, least[number]), np.fmax(load, most[number])
            of_rows = there[posts.first]
            at_ends.append(np.where(of_rows, _at_ends(posts, chain), np.nan))
            positions.append(_position(posts, number, use, height, chain, of_rows))
        forces.append(np.fmax.reduce(at_ends))
        _note_borne(posts, wire, places.height_m[places.lifted[number].any(axis=0)], most[number], notes)
    together = RowEnds(*np.stack(forces, axis=1))
    return InState(State.LIFTED, least, tension, together), Lifts(tuple(positions), most)


def _at_ends(posts: Posts, chain: Chain) -> FloatArray:
    """start_n, far_n, start_pull_n and far_pull_n of one wire, shape (4, rows)."""
    ends = row_ends(posts, [chain])
    return np.concatenate([ends.start_n, ends.far_n, ends.start_pull_n, ends.far_pull_n])


def _position(posts: Posts, wire: int, use: str, height_m: float, chain: Chain, of_rows: BoolArray) -> Lift:
    """One lift position of one wire, in the rows that have it."""
    load = np.where(posts.is_end, np.nan, chain.clip_load_n)
    return Lift(
        wire,
        use,
        height_m,
        row=np.flatnonzero(of_rows),
        start_n=chain.support_tension_n[posts.first][of_rows],
        far_n=chain.support_tension_n[posts.last][of_rows],
        first_n=load[posts.first + 1][of_rows],
        last_n=load[posts.last - 1][of_rows],
        least_n=np.fmin.reduceat(load, posts.first)[of_rows],
        greatest_n=np.fmax.reduceat(load, posts.first)[of_rows],
    )


def _note_borne(posts: Posts, wire: WireSettings, heights_m: FloatArray, most_n: FloatArray, notes: Findings) -> None:
    if not len(heights_m) or wire.ends_move or np.isnan(most_n).all():
        return
    worst = int(np.nanargmax(most_n))
    notes.note(
        "lift-load",
        f"Lifted to {', '.join(f'{height:.2f}' for height in heights_m)} m, wire {wire.id} presses down most next to "
        f"the end posts, where it comes up from {wire.height_m:.2f} m: up to {most_n[worst]:.0f} N a line, at "
        f"{posts.post_id[worst]}.",
    )
