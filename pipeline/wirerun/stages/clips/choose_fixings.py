"""Which fixing of the catalogue goes on each post and wire, how many, and why."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, is_blank, no_words, only_where, words
from wirerun.findings import Findings, name_some
from wirerun.mechanics.timber import nail_withdrawal, screw_withdrawal
from wirerun.model.clips import ClipPositions, Clips, Fixings, Need
from wirerun.model.layout import PostHeights, Posts
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import FixingItem, PostItem
from wirerun.wording import many

_LEGS: Final = {"staple": 2, "nail": 1}
# More than any fixing costs: what has no price comes after all that have one, a smooth staple in uplift after those.
_UNPRICED: Final = 1e7
_LAST_RESORT: Final = 1e9
_FILTERS: Final = (
    "no fixing in the catalogue for this post",
    "no {clip} fixing in the catalogue for this post",
    "none of the right kind is driven as the config asks",
    "none of the right kind is safe for nets",
    "none of the right kind holds the load",
)


@dataclass(frozen=True, slots=True)
class _Options:
    """The catalogue's fixings as arrays: what each holds on each post, shape (posts of the catalogue, fixings) [N]."""

    items: tuple[FixingItem, ...]
    holds_n: FloatArray
    fits: BoolArray


@dataclass(frozen=True, slots=True)
class _Held:
    """What is held on every intermediate post of every wire; axis place, wire by wire."""

    wire: IntArray
    post: IntArray
    clip: TextArray
    need_n: FloatArray
    lasting_uplift: BoolArray


def choose_fixings(
    standing: tuple[Posts, PostHeights],
    places: ClipPositions,
    clips: Clips,
    need: Need,
    lasting_uplift: BoolArray,
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
) -> Fixings:
    """Fixing of every intermediate post and wire: the cheapest in price and labour that suits and holds.

    It suits where it fixes to the post's material, holds the ways the planned clip must, is driven as the config
    asks, and is safe for nets where they are used. It holds where the worst pull of one line over all states, up, down
    and sideways together, is no more than what lets go first: the wire out of the fixing (over `clip_factor`) or the
    fixing out of the timber (over `withdrawal_factor`). The whole pull is taken along the fastener, as if it drew it
    straight out; shear is not looked at. A smooth staple or nail is taken for a wire that pulls up as strung only
    where nothing else holds it (Eurocode 5, 8.3.2: no smooth nails under lasting axial load).

    Parameters
    ----------
    standing : Posts, PostHeights
        The posts, and which are bought.
    places : ClipPositions
        Which clips are bought for each wire on each post, and which other wires they hold too.
    clips, need
        What is planned, and the loads over all states.
    lasting_uplift : [wire, post]
        Whether the wire pulls up as strung by more than a one-way clip holds: for good, that is.
    config : Config
        wires, clips, fixings, undulation and work.
    catalogue : Catalogue
        Fixings and posts.
    notes : Findings
        Hears of posts where nothing suits, and of smooth staples in lasting uplift.
    """
    posts, heights = standing
    shape = clips.kind.shape
    lines = np.array([wire.lines for wire in config.wires], dtype=np.int64)
    positions = np.where(posts.is_end, 0, places.own.sum(axis=2))
    pieces = np.where(posts.is_end, 0, places.pieces(lines))
    if not catalogue.fixings:
        reason = only_where(np.broadcast_to(~posts.is_end, shape), "the catalogue has no fixings")
        return Fixings(positions, pieces, no_words(shape), np.full(shape, np.nan), reason)
    options = _options(catalogue, config)
    known = {item.id: number for number, item in enumerate(catalogue.posts)}
    # One more line stands for a post that the catalogue does not have.
    bought = np.array([known.get(item, len(known)) for item in heights.item], dtype=np.int64)
    held = _held(posts, clips, need, places.serves, lasting_uplift)
    passed = _passed(held, bought[held.post], options, config)
    smooth = np.array([item.shank == "smooth" for item in options.items])
    cost = _cost(options.items, config.work.labour_per_hour or 0.0)
    cost = cost + _LAST_RESORT * (held.lasting_uplift[:, None] & smooth)
    best = np.where(passed[-1], cost, np.inf).argmin(axis=1)
    found = passed[-1].any(axis=1)
    last_resort = found & held.lasting_uplift & smooth[best]
    reason = _reasons(held, passed, last_resort)
    names = words(item.id for item in options.items)
    _note_nothing(posts, held, ~found & ~is_blank(held.clip), reason, notes)
    _note_smooth(posts.post_id[held.post[last_resort]], notes)
    at = held.wire, held.post
    item, holds, why = no_words(shape), np.full(shape, np.nan), no_words(shape)
    item[at] = only_where(found, names[best])
    holds[at] = np.where(found, options.holds_n[bought[held.post], best], np.nan)
    why[at] = reason
    return Fixings(positions, pieces, item, holds, why)


def _held(posts: Posts, clips: Clips, need: Need, serves: BoolArray, uplift: BoolArray) -> _Held:
    wire = np.repeat(np.arange(len(clips.kind)), len(posts.middle))
    at = wire, np.tile(posts.middle, len(clips.kind))
    clip = clips.kind[at]
    up, down, aside = (_with_guests(pull, serves)[at] for pull in (-need.least_n, need.greatest_n, need.side_n))
    # Up counts only where the clip must hold it.
    vertical = np.fmax(np.fmax(np.where(clip == "one-way", 0.0, up), down), 0.0)
    return _Held(*at, clip, np.hypot(vertical, np.nan_to_num(aside)), uplift[at])


def _with_guests(pull_n: FloatArray, serves: BoolArray) -> FloatArray:
    """Greatest pull of the wire and of those that its clips hold too, [wire, post] [N]."""
    of_guests = np.fmax.reduce(np.where(serves, pull_n, np.nan), axis=1)
    return np.asarray(np.fmax(pull_n, of_guests))


def _options(catalogue: Catalogue, config: Config) -> _Options:
    """What every fixing holds on every post of the catalogue; the last line is for a post that it does not have."""
    items = catalogue.fixings
    drawn = np.array([[_withdrawal(item, post) for item in items] for post in catalogue.posts])
    lets_go = np.array([item.lets_go_n for item in items]) / config.fixings.clip_factor
    holds = np.minimum(drawn.reshape(-1, len(items)) / config.fixings.withdrawal_factor, lets_go)
    fits = np.array([[item.fixes_to == post.material for item in items] for post in catalogue.posts], dtype=bool)
    nowhere = np.zeros((1, len(items)))
    return _Options(items, np.vstack([holds, nowhere]), np.vstack([fits.reshape(-1, len(items)), nowhere > 0.0]))


def _withdrawal(item: FixingItem, post: PostItem) -> float:
    """Pull that draws all fasteners of a fixing out of a post [N]; inf where none is in wood."""
    if item.fastener_kind == "none" or post.specific_gravity is None:
        return np.inf
    size = (post.specific_gravity, item.fastener_diameter_mm, item.fastener_length_mm)
    if item.fastener_kind == "screw":
        return float(item.fasteners * screw_withdrawal(*size))
    return float(item.fasteners * _LEGS[item.fastener_kind] * nail_withdrawal(*size))


def _passed(held: _Held, bought: IntArray, options: _Options, config: Config) -> BoolArray:
    """Whether each fixing passes each of `_FILTERS` and all before it, [filter, place, fixing]."""
    items = options.items
    staple = np.array([item.is_staple for item in items])
    hook = np.array([item.kind == "hook" for item in items])  # stands in for a staple on a steel post
    both = np.array([item.holds == "both" for item in items])
    down = np.array([item.holds in ("down", "both") for item in items])
    clip = held.clip[:, None]
    right = [both & (staple | hook), both & ~staple, down & ~staple]
    kind = np.select([clip == "staple", clip == "two-way", clip == "one-way"], right, default=False)
    shut_out = {"hand": "air", "air": "hand", "any": ""}[config.fixings.driven]
    driven = np.broadcast_to([item.driven != shut_out for item in items], kind.shape)
    net_safe = np.broadcast_to([item.net_safe or not config.clips.nets for item in items], kind.shape)
    holds = options.holds_n[bought] >= held.need_n[:, None]
    return np.logical_and.accumulate([options.fits[bought], kind, driven, net_safe, holds])


def _cost(items: tuple[FixingItem, ...], labour_per_hour: float) -> FloatArray:
    """Price and labour of one piece, shape (fixings,)."""
    priced = np.array([_UNPRICED if item.price is None else item.price for item in items])
    fastener = np.array([item.fasteners * (item.fastener_price or 0.0) for item in items])
    return np.asarray(priced + fastener + np.array([item.minutes for item in items]) / 60.0 * labour_per_hour)


def _reasons(held: _Held, passed: BoolArray, smooth: BoolArray) -> TextArray:
    """Why this fixing, or which condition left none, [place]."""
    left = np.asarray(passed.any(axis=2))
    count = passed[-1].sum(axis=1)
    most = [f"cheapest of {n} that hold" if n > 1 else "the only one that holds" for n in range(passed.shape[2] + 1)]
    why: TextArray = words(most)[count]
    why[smooth] = "smooth in lasting uplift: nothing else holds"
    # The first condition that nothing passes; asked from the last on, so that the first has the last word.
    for number in reversed(range(len(_FILTERS))):
        for clip in ("one-way", "two-way", "staple"):
            why[~left[number] & (held.clip == clip)] = _FILTERS[number].format(clip=clip)
    why[is_blank(held.clip)] = "load not known"
    return why


def _note_nothing(posts: Posts, held: _Held, where: BoolArray, reason: TextArray, notes: Findings) -> None:
    if where.any():
        notes.note(
            "no-fixing",
            f"No fixing of the catalogue suits {many(where.sum(), 'place')}, up to {held.need_n[where].max():.0f} N "
            "a line "
            f"({'; '.join(sorted(set(reason[where])))}); the materials have nothing for it: "
            f"{name_some(dict.fromkeys(posts.post_id[held.post[where]]))}.",
        )


def _note_smooth(post_id: TextArray, notes: Findings) -> None:
    if len(post_id):
        notes.note(
            "smooth-in-uplift",
            f"Smooth staples or nails hold {many(len(post_id), 'wire')} pulling up for good, for want of others in "
            "the "
            f"catalogue; Eurocode 5 (8.3.2) does not rely on them: {name_some(dict.fromkeys(post_id))}.",
        )
