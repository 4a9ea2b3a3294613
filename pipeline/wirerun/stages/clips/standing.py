"""What stands already and is not where a wire needs it, or not made for what it will bear."""

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.findings import Findings, name_some
from wirerun.model.clips import ClipPositions, Clips
from wirerun.model.layout import Posts
from wirerun.model.standing import Standing
from wirerun.model.wires import PostLoads
from wirerun.rules.standing import SAME_HEIGHT_M, at_standing_heights
from wirerun.settings import Config
from wirerun.wording import many


def note_standing(
    posts: Posts,
    standing: Standing,
    measured: tuple[FloatArray, FloatArray | None],
    places: ClipPositions,
    clips: Clips,
    loads: PostLoads,
    config: Config,
    notes: Findings,
) -> None:
    """Say what a crew has to put right before new wires go on what stands.

    Parameters
    ----------
    posts, standing
        The posts, and what stands.
    measured : ([post], [post] or None)
        How far the posts are out of the ground, and how far each was measured off its row's line, to the left; None
        where posts were not surveyed. [m]
    places, clips, loads
        Where the wires need clips, which, and what the posts bear.
    config : Config
        Wires, tolerance, heights of standing fixings.
    notes : Findings
        Hears of standing posts that are too short or off the line, of fixings elsewhere, of two-way clips asked for
        where fixings stand, and of end posts.
    """
    out_m, aside_m = measured
    if not standing.posts.any():
        return
    _note_short(posts, standing, out_m, config, notes)
    if aside_m is None:
        notes.note(
            "standing-not-surveyed",
            f"{many(standing.posts.sum(), 'post', 'are')} taken to stand where the plan would have them; surveyed "
            'posts (posts.placing = "given") are taken where they are.',
        )
    else:
        _note_off_line(posts, standing, aside_m, config, notes)
    _note_elsewhere(posts, standing, places, config, notes)
    _note_two_way(posts, standing, clips, config, notes)
    ends = np.flatnonzero(standing.posts & posts.is_end)
    if len(ends) and not standing.wires.all():
        worst = ends[np.nanargmax(np.nan_to_num(loads.end_pull_n[ends]))]
        notes.note(
            "standing-ends",
            f"{many(len(ends), 'standing end post', 'have')} to bear the new wires too, up to "
            f"{loads.end_pull_n[worst]:.0f} N in all (at {posts.post_id[worst]}); a competent person has to see that "
            "they and their anchors can.",
        )


def off_neighbours_m(posts: Posts, aside_m: FloatArray) -> FloatArray:
    """How far each post is off the line between its neighbours, as a row's line runs, [post]; 0 at end posts [m].

    Posts that lie off a drawn line all alike are in line with each other.

    Example: three posts 6 m apart, measured 0.1, 0.3 and 0.1 m to the left of the row's line: the middle one is 0.2 m
    off.
    """
    off = np.zeros(len(posts))
    at = posts.middle
    before, after = posts.along_m[at] - posts.along_m[at - 1], posts.along_m[at + 1] - posts.along_m[at]
    off[at] = aside_m[at] - (aside_m[at - 1] * after + aside_m[at + 1] * before) / (before + after)
    return off


def _note_short(posts: Posts, standing: Standing, out_m: FloatArray, config: Config, notes: Findings) -> None:
    for wire in config.wires:
        short = np.flatnonzero(standing.posts & (out_m < wire.height_m))
        if len(short):
            notes.note(
                "standing-short",
                f"{many(len(short), 'standing post', 'are')} too short for the wire {wire.id} at {wire.height_m:g} m, "
                f"the shortest {out_m[short].min():.2f} m out of the ground, and so no wire of their rows is lifted "
                f"higher: replace or lengthen {name_some(posts.post_id[short])}.",
            )


def _note_off_line(posts: Posts, standing: Standing, aside_m: FloatArray, config: Config, notes: Findings) -> None:
    off = np.abs(off_neighbours_m(posts, aside_m))
    far = np.flatnonzero(standing.posts & (off > config.standing.off_line_m))
    if not len(far):
        return
    tight = max(wire.tension_n for wire in config.wires)
    spans = np.minimum(posts.along_m[far] - posts.along_m[far - 1], posts.along_m[far + 1] - posts.along_m[far])
    worst = int(np.argmax(off[far]))
    notes.note(
        "standing-off-line",
        f"{many(len(far), 'standing post', 'are')} more than {config.standing.off_line_m:g} m off the line of the "
        f"neighbours, the farthest {off[far[worst]]:.2f} m: there a wire of {tight:.0f} N pulls about "
        f"{2.0 * tight * off[far[worst]] / spans[worst]:.0f} N to the side, which is in no load of this plan. Set "
        f"upright or move {name_some(posts.post_id[far])}.",
    )


def _note_elsewhere(posts: Posts, standing: Standing, places: ClipPositions, config: Config, notes: Findings) -> None:
    if not config.standing.fixing_heights_m:
        return
    there = at_standing_heights(places, config.standing)
    at = ", ".join(f"{height:.2f}" for height in config.standing.fixing_heights_m)
    for number, wire in enumerate(config.wires):
        lacking = places.own[number][standing.posts & ~posts.is_end] & ~there
        if config.standing.has_fixings_of(wire.id) and lacking.any():
            heights = ", ".join(f"{height:.2f}" for height in places.height_m[lacking.any(axis=0)])
            where = many(lacking.any(axis=1).sum(), "post")
            notes.note(
                "standing-fixings-elsewhere",
                f"The wire {wire.id} needs fixings at {heights} m, but those that stand are at {at} m (within "
                f"{100.0 * SAME_HEIGHT_M:g} cm): they are ordered anew there, on {where}.",
            )


def _note_two_way(posts: Posts, standing: Standing, clips: Clips, config: Config, notes: Findings) -> None:
    asked = (clips.kind == "two-way") & (standing.pieces > 0)
    at = np.flatnonzero(asked.any(axis=0))
    if len(at):
        which = [wire.id for wire, some in zip(config.wires, asked.any(axis=1), strict=True) if some]
        notes.note(
            "standing-one-way",
            f"{many(len(at), 'post', 'ask')} for two-way clips where fixings stand already (wires "
            f"{', '.join(which)}): look whether those hold the wire down; none is ordered. "
            f"{name_some(posts.post_id[at])}.",
        )
