"""What the wires ask of posts, end posts and knots, in the worst state."""

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.findings import Findings, name_some
from wirerun.model.layout import Posts, Rows
from wirerun.model.moved_wires import Lifts
from wirerun.model.wires import PostLoads, WireStates
from wirerun.settings import PostSettings, WireSettings
from wirerun.state import State
from wirerun.wording import many


def load_posts(
    posts: Posts,
    states: WireStates,
    lifts: Lifts,
    wires: tuple[WireSettings, ...],
    settings: PostSettings,
    notes: Findings,
) -> PostLoads:
    """Uplift of every post, pull and moment on every end post, greatest tension of every wire.

    Each is the worst of all states, all wires and lines together in the same state; a wire that has no such state, as
    a fixed wire that is never lifted or dropped, stays tight meanwhile. The post's own weight and what vines hang on
    the wires are left out. The moment is about the ground, along the row, without braces.

    Parameters
    ----------
    posts : Posts
        Where the wires run.
    states : WireStates
        What they do.
    lifts : Lifts
        How high wires go whose ends are moved with them.
    wires : tuple of WireSettings
        Lines, heights, strength.
    settings : PostSettings
        Pull-out resistance and its factor.
    notes : Findings
        Hears of posts that may be pulled out, of wires too tight for their knots, and of the greatest pull on an end.
    """
    lines = np.array([wire.lines for wire in wires], dtype=np.float64)
    heights = _arms(lifts, wires)
    load = np.where(np.isnan(states.load_n), states[State.STRUNG].load_n[..., None], states.load_n)
    down = np.einsum("w,wps->ps", lines, load).min(axis=-1)
    as_strung = states[State.STRUNG].ends
    pull = np.full(len(posts), np.nan)
    moment = np.full(len(posts), np.nan)
    for at, pulls, when_strung in (
        (posts.first, [each.ends.start_pull_n for each in states.states], as_strung.start_pull_n),
        (posts.last, [each.ends.far_pull_n for each in states.states], as_strung.far_pull_n),
    ):
        of_wire = lines[:, None, None] * np.stack(
            [np.where(np.isnan(each), when_strung, each) for each in pulls], axis=-1
        )
        pull[at] = of_wire.sum(axis=0).max(axis=-1)
        moment[at] = (of_wire * heights[:, None, :]).sum(axis=0).max(axis=-1)
    loads = PostLoads(
        uplift_n=np.where(posts.is_end, np.nan, np.maximum(-down, 0.0)),
        end_pull_n=pull,
        end_moment_nm=moment,
        greatest_tension_n=np.fmax.reduce(
            [tension for each in states.states for tension in (each.ends.start_n, each.ends.far_n)]
        ),
    )
    _note_pulled_out(posts, loads.uplift_n, settings, notes)
    _note_knots(posts.rows, loads.greatest_tension_n, wires, notes)
    _note_end_posts(posts, loads, notes)
    return loads


def _arms(lifts: Lifts, wires: tuple[WireSettings, ...]) -> FloatArray:
    """Height at which each wire pulls the end posts, [wire, state]; lifted, the greatest where its ends move."""
    arms = np.repeat([[wire.height_m] for wire in wires], len(State), axis=1)
    for lift in lifts.positions:
        if wires[lift.wire].ends_move:
            arms[lift.wire, State.LIFTED.axis] = max(arms[lift.wire, State.LIFTED.axis], lift.height_m)
    return arms


def _note_pulled_out(posts: Posts, uplift_n: FloatArray, settings: PostSettings, notes: Findings) -> None:
    limit = settings.pull_out_n / settings.pull_out_factor
    weak = np.flatnonzero(uplift_n > limit)
    if len(weak):
        notes.note(
            "post-uplift",
            f"{many(len(weak), 'post', 'are')} pulled up by more than {limit:.0f} N (post_pull_out_n = "
            f"{settings.pull_out_n:g} over a factor of {settings.pull_out_factor:g}), up to "
            f"{uplift_n[weak].max():.0f} N; drive them deeper or hold them down: {name_some(posts.post_id[weak])}.",
        )


def _note_knots(rows: Rows, greatest_n: FloatArray, wires: tuple[WireSettings, ...], notes: Findings) -> None:
    for wire, greatest in zip(wires, greatest_n, strict=True):
        limit = wire.knot_n
        tight = np.flatnonzero(greatest > limit)
        if len(tight):
            notes.note(
                "knot-overload",
                f"Wire {wire.id} reaches {greatest[tight].max():.0f} N, more than the {limit:.0f} N its end knot "
                f"bears, in {many(len(tight), 'row')}: {name_some(rows.row_id[tight])}.",
            )


def _note_end_posts(posts: Posts, loads: PostLoads, notes: Findings) -> None:
    worst = int(np.nanargmax(loads.end_pull_n))
    notes.note(
        "end-posts",
        f"All wires together pull an end post by up to {loads.end_pull_n[worst]:.0f} N, a moment of "
        f"{np.nanmax(loads.end_moment_nm):.0f} Nm about the ground ({posts.post_id[worst]}). End assemblies are for a "
        "competent person to size.",
    )
