"""What the wires ask of posts, end posts and knots, in the worst state."""

from typing import Final

import numpy as np
import pandas as pd

from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray
from wirerun.settings import PostSettings, WireSettings

# A wire that has no such state of its own, as a fixed wire that is never lifted or dropped, stays tight meanwhile.
_POST_STATES: Final = ("tight", "cold", "hot", "lifted")
_END_STATES: Final = ("tight", "cold", "hot", "lifted", "dropped")


def load_posts(
    posts: pd.DataFrame,
    loads: pd.DataFrame,
    totals: pd.DataFrame,
    wires: tuple[WireSettings, ...],
    settings: PostSettings,
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    """Uplift of every post, pull and moment on every end post, greatest tension of every wire.

    Each is the worst of all states, all wires and lines together in the same state. The post's own weight and what
    vines hang on the wires are left out. The moment is about the ground, along the row, without braces.

    Parameters
    ----------
    posts : DataFrame
        post_id, block_id, row, kind.
    loads : DataFrame
        wire_id, post, load_<state>_n.
    totals : DataFrame
        wire_id, row, lines, and the tension and pull at both ends in every state.
    wires : tuple of WireSettings
        Lines, heights, strength.
    settings : PostSettings
        Pull-out resistance and its factor.

    Returns
    -------
    posts : DataFrame
        With uplift_n (intermediates), end_pull_n and end_moment_nm (end posts).
    totals : DataFrame
        With greatest_tension_n.
    findings : list of Finding
        Posts that may be pulled out; wires too tight for their knots; the greatest pull on an end post.
    """
    uplift = _uplift(len(posts), loads, {wire.id: wire.lines for wire in wires})
    middle = (posts["kind"] == "intermediate").to_numpy()
    row = posts["row"].to_numpy()
    is_first = np.diff(row, prepend=-1) != 0
    pull, moment = np.full(len(posts), np.nan), np.full(len(posts), np.nan)
    for end, at in (("start", is_first), ("far", ~middle & ~is_first)):
        pull[at], moment[at] = _end_post(totals, wires, end)
    posts = posts.assign(uplift_n=np.where(middle, uplift, np.nan), end_pull_n=pull, end_moment_nm=moment)
    ends = [f"{end}_{state}_n" for state in _END_STATES for end in ("start", "far")]
    totals = totals.assign(greatest_tension_n=totals[ends].max(axis=1))
    return posts, totals, [*_pulled_out(posts, settings), *_knots(totals, wires), *_end_posts(posts)]


def _uplift(count: int, loads: pd.DataFrame, lines: dict[str, int]) -> FloatArray:
    """Greatest net upward pull on each post, shape (count,) [N]; 0 where all states bear down."""
    many = loads["wire_id"].map(lines).to_numpy()
    tight = loads["load_tight_n"].to_numpy()
    down = np.full(count, np.inf)
    for state in _POST_STATES:
        load = loads[f"load_{state}_n"].to_numpy()
        net = np.bincount(loads["post"], weights=many * np.where(np.isnan(load), tight, load), minlength=count)
        down = np.fmin(down, net)
    known = np.bincount(loads["post"], weights=np.isnan(tight), minlength=count) == 0
    return np.where(known, np.maximum(-down, 0.0), np.nan)


def _end_post(totals: pd.DataFrame, wires: tuple[WireSettings, ...], end: str) -> tuple[FloatArray, FloatArray]:
    """Greatest pull [N] and moment about the ground [Nm] on one end post of every row, shape (rows,) each."""
    pulls, moments = [], []
    for state in _END_STATES:
        pull, moment = 0.0, 0.0
        for wire in wires:
            mine = totals[totals["wire_id"] == wire.id]
            own = mine[f"pull_{end}_{state}_n"].to_numpy()
            of_wire = wire.lines * np.where(np.isnan(own), mine[f"pull_{end}_tight_n"].to_numpy(), own)
            pull, moment = pull + of_wire, moment + of_wire * wire.height_m
        pulls.append(pull)
        moments.append(moment)
    return np.max(pulls, axis=0), np.max(moments, axis=0)


def _pulled_out(posts: pd.DataFrame, settings: PostSettings) -> list[Finding]:
    limit = settings.pull_out_n / settings.pull_out_factor
    weak = posts[posts["uplift_n"] > limit]
    if weak.empty:
        return []
    return [
        Finding(
            "post-uplift",
            str(posts["block_id"].iloc[0]),
            f"{len(weak)} post(s) are pulled up by more than {limit:.0f} N (post_pull_out_n = "
            f"{settings.pull_out_n:g} over a factor of {settings.pull_out_factor:g}), up to "
            f"{weak['uplift_n'].max():.0f} N; drive them deeper or hold them down: {name_some(weak['post_id'])}.",
        )
    ]


def _knots(totals: pd.DataFrame, wires: tuple[WireSettings, ...]) -> list[Finding]:
    findings = []
    for wire in wires:
        limit = wire.strength_n * wire.knot_efficiency
        tight = totals[(totals["wire_id"] == wire.id) & (totals["greatest_tension_n"] > limit)]
        if tight.empty:
            continue
        findings.append(
            Finding(
                "knot-overload",
                str(totals["block_id"].iloc[0]),
                f"Wire {wire.id} reaches {tight['greatest_tension_n'].max():.0f} N, more than the {limit:.0f} N its "
                f"end knot bears, in {len(tight)} row(s): {name_some(tight['row_id'])}.",
            )
        )
    return findings


def _end_posts(posts: pd.DataFrame) -> list[Finding]:
    ends = posts[posts["end_pull_n"].notna()]
    if ends.empty:
        return []
    worst = ends.loc[ends["end_pull_n"].idxmax()]
    return [
        Finding(
            "end-posts",
            str(posts["block_id"].iloc[0]),
            f"All wires together pull an end post by up to {worst['end_pull_n']:.0f} N, a moment of "
            f"{ends['end_moment_nm'].max():.0f} Nm about the ground ({worst['post_id']}). End assemblies are for a "
            f"competent person to size.",
        )
    ]
