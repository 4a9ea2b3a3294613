"""What holds each wire on each post: one-way clip, two-way clip or staple, and on which side the wire sits."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, TextArray, only_where, words
from wirerun.clip_need import REASONS, ClipNeed
from wirerun.findings import Findings, name_some
from wirerun.model.clips import Clips, Need, PostNeed, Sections
from wirerun.model.layout import Posts
from wirerun.model.wires import WireStates
from wirerun.rules.look_on_site import LookMinutes
from wirerun.settings import UndulationSettings
from wirerun.state import IN_CLIPS, State
from wirerun.wording import many, number


def choose_clips(
    posts: Posts,
    states: WireStates,
    need: Need,
    sections: Sections,
    stapled: BoolArray,
    serves: BoolArray,
    undulation: UndulationSettings,
    minutes: LookMinutes,
) -> Clips:
    """Clip and seat of every intermediate post and wire.

    Every post inside an undulating section gets two-way clips on all its clipped wires: a crew does not change clips
    from post to post. So does a post in a curve that the wire pulls hard to the side, and a clip into which another
    wire is lifted that asks for one. The wire sits under the fixing where it pulls up and the fixing can hold it there,
    else over it. A one-way clip is to be looked at where that is expected
    to save more time than it takes.

    Parameters
    ----------
    posts : Posts
        The post axis.
    states : WireStates
        Loads, state by state.
    need : Need
        Loads of all states, and how sure the need is.
    sections : Sections
        Where two-way clips are planned.
    stapled : [wire]
        Which wires are held by staples.
    serves : [wire, wire, post]
        Whether a clip of the first wire holds the second too.
    undulation : UndulationSettings
        From which probability on a two-way clip is asked for, and from which pull to the side.
    minutes : LookMinutes
        What a look takes, and what it saves.
    """
    staple, held = stapled[:, None], ~posts.is_end
    two_way = (sections.at_posts(len(posts)) >= 0) | (need.side_n > undulation.hold_side_n)
    two_way = two_way | (serves & two_way).any(axis=1)
    kind = _kind(staple, two_way, need.least_n, held)
    return Clips(
        kind,
        _seat(need.least_n, kind),
        (kind == "one-way") & (minutes.saved(need.need) > 0.0),
        _kind(staple[..., None], need.probability >= undulation.planned_from, states.load_n, held[:, None]),
        _seat(states.load_n, kind[..., None]),
    )


def what_posts_ask(
    posts: Posts,
    need: Need,
    clips: Clips,
    undulation: UndulationSettings,
    minutes: LookMinutes,
    notes: Findings,
) -> PostNeed:
    """What each post asks for over all its wires, and why: the class by which it is drawn, set out and looked at.

    Parameters
    ----------
    posts : Posts
        The post axis.
    need, clips
        What was found and chosen.
    undulation : UndulationSettings
        From which probability on a two-way clip is asked for.
    minutes : LookMinutes
        What a look takes, and what it saves.
    notes : Findings
        Hears of posts to look at on site.
    """
    ask = np.full(len(posts), ClipNeed.NONE, dtype=object)
    # From the least to the most, so that the most stays.
    for word, where in (
        (ClipNeed.ONE_WAY, (clips.kind == "one-way").any(axis=0)),
        (ClipNeed.UNKNOWN, ~posts.is_end & np.isnan(need.least_n).all(axis=0)),
        (ClipNeed.LOOK, clips.look.any(axis=0)),
        (ClipNeed.TWO_WAY, (clips.kind == "two-way").any(axis=0)),
    ):
        ask[where] = word
    doubt = np.where(clips.kind == "one-way", np.nan_to_num(need.need), 0.0).max(axis=0, initial=0.0)
    look = ask == ClipNeed.LOOK
    saves = np.where(look, minutes.saved(doubt), np.nan)
    if look.any():
        _note_looks(posts, doubt, look, undulation, minutes, notes)
    return PostNeed(ask, _reason(need, clips, undulation), saves)


def _note_looks(
    posts: Posts,
    doubt: FloatArray,
    look: BoolArray,
    undulation: UndulationSettings,
    minutes: LookMinutes,
    notes: Findings,
) -> None:
    """Name the posts to look at, those first where a look saves most, and say what is left unlooked at."""
    worthiest = np.flatnonzero(look)[np.argsort(-doubt[look], kind="stable")]
    others = float(doubt[~look].sum())
    notes.note(
        "look-on-site",
        f"{many(len(worthiest), 'post')} may need a two-way clip, less surely than where one is planned (from a "
        f"probability of {undulation.planned_from:.2g} on); look at them when the wires are strained, at the likeliest "
        f"first (look_saves_min in posts.csv): {name_some(posts.post_id[worthiest])}. About "
        f"{number(round(doubt[look].sum()))} of them will need one. Of all others with one-way clips about "
        f"{number(round(others))} will, but to come back to these ({minutes.come_back:g} min each) is less work than "
        f"to look for them ({minutes.look:g} min a post).",
    )


def _reason(need: Need, clips: Clips, undulation: UndulationSettings) -> TextArray:
    """Why each post gets two-way clips, of `clip_need.REASONS`; None where it gets none."""
    two_way = clips.kind == "two-way"
    asked = (two_way[..., None] & (need.probability >= undulation.planned_from)).any(axis=0)
    aside = (two_way & (need.side_n > undulation.hold_side_n)).any(axis=0)
    return np.select(
        [
            ~two_way.any(axis=0),
            asked[:, IN_CLIPS.index(State.STRUNG)],
            asked[:, IN_CLIPS.index(State.LIFTED)],
            asked[:, IN_CLIPS.index(State.COLD)],
            asked[:, IN_CLIPS.index(State.HOT)],
            aside,
        ],
        words([None, *REASONS[:-1]]),
        REASONS[-1],
    )


def _kind(staple: BoolArray, two_way: BoolArray, load_n: FloatArray, held: BoolArray) -> TextArray:
    """Clip of each place; None where the load is not known and no staple holds the wire anyway, and at end posts."""
    named = np.where(staple, "staple", np.where(two_way, "two-way", "one-way")).astype(object)
    return only_where(held & (staple | ~np.isnan(load_n)), named)


def _seat(load_n: FloatArray, kind: TextArray) -> TextArray:
    """Side on which the wire sits: a one-way clip can only hold it from below."""
    under = (load_n < 0.0) & (kind != "one-way")
    return only_where(~np.isnan(load_n), np.where(under, "under", "over").astype(object))
