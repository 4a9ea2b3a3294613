"""Which fixing of the catalogue goes on each post and wire, how many, and why; and what other choices would take."""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, is_blank, no_words, only_where, words
from wirerun.findings import Findings, name_some
from wirerun.model.clips import ClipPositions, Clips, FixingOption, Fixings, Need
from wirerun.model.layout import PostHeights, Posts
from wirerun.rules.clip_test import held_down_n
from wirerun.rules.fixing_strength import withdrawal_n
from wirerun.rules.usable_fixings import Allowed
from wirerun.settings import CERTAINTY, Catalogue, Config
from wirerun.settings.fixing_item import FixingItem
from wirerun.stages.clips.fixing_sets import Asked, Compared, Offers, compare_sets
from wirerun.wording import many

#: Why nothing is chosen where all that holds a wire is there.
STANDS: Final = "stands already"
_FILTERS: Final = (
    "no fixing in the catalogue for this post",
    "no {clip} fixing in the catalogue for this post",
    "none of fixings.use is of the right kind",
    "none of the right kind is driven as the config asks",
    "none of the right kind is safe for nets",
    "none of the right kind is safe for a harvester",
    "none of the right kind is known to hold its wire down by undulation.hold_down_n",
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
    """What is held on every intermediate post of every wire; axis place, wire by wire.

    `up_n`, `down_n` and `side_n` are the greatest pulls of one line over all states, of the wire and of those that its
    clips hold too. `turns` says where a clip may be mounted upside down.
    """

    wire: IntArray
    post: IntArray
    clip: TextArray
    up_n: FloatArray
    down_n: FloatArray
    side_n: FloatArray
    turns: BoolArray
    is_moved: BoolArray
    lasting_uplift: BoolArray

    @property
    def both_ways_n(self) -> FloatArray:
        """Pull on a fixing that holds both ways, or down; up counts only where the clip must hold it [N]."""
        up = np.where(self.clip == "one-way", 0.0, self.up_n)
        return np.asarray(np.hypot(np.fmax(np.fmax(up, self.down_n), 0.0), self.side_n))

    @property
    def upside_down_n(self) -> FloatArray:
        """Pull on a clip that is mounted upside down [N]."""
        return np.asarray(np.hypot(np.fmax(self.up_n, 0.0), self.side_n))


class OnPosts(NamedTuple):
    """What fixings go on: posts, which are bought, what each row's slope makes of minutes, [row].

    `there`, [wire, post], are pieces that stand already; where all do, nothing is chosen. None: nothing stands.
    """

    posts: Posts
    heights: PostHeights
    pace: FloatArray
    there: IntArray | None = None


def choose_fixings(
    on_posts: OnPosts,
    places: ClipPositions,
    clips: Clips,
    need: Need,
    lasting_uplift: BoolArray,
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
) -> tuple[Fixings, tuple[FixingOption, ...]]:
    """Fixing of every intermediate post and wire: of the cheapest set of few kinds, the cheapest that holds there.

    A fixing suits where it fixes to the post's material, holds the ways the planned clip must, lets go of a wire that
    is moved, is driven as the config asks, and is safe for nets and harvester where they are used. In place of a
    two-way clip a one-way clip may be mounted upside down where the wire as good as never bears down (probability below
    that of "possible"). It holds where the worst pull of one line over all states, up, down and sideways together, is
    no more than what lets go first: the wire out of the fixing (over `clip_factor`) or the fixing out of the timber
    (over `withdrawal_factor`). The whole pull is taken along the fastener, as if it drew it straight out; shear is not
    looked at. A smooth staple or nail is taken for a wire that pulls up as strung only where nothing else holds it
    (Eurocode 5, 8.3.2: no smooth nails under lasting axial load).

    Parameters
    ----------
    on_posts : OnPosts
        The posts, and what is on them already.
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
        Hears of posts where nothing suits, of sets of more kinds than asked for, and of smooth staples in lasting
        uplift.

    Returns
    -------
    fixings : Fixings
    options : tuple of FixingOption
        Every fixing alone and every pair, and what was chosen.
    """
    posts, heights, pace, there = on_posts
    shape = clips.kind.shape
    lines = np.array([wire.lines for wire in config.wires], dtype=np.int64)
    positions = np.where(posts.is_end, 0, places.own.sum(axis=2))
    pieces = np.where(posts.is_end, 0, places.pieces(lines))
    new = pieces if there is None else pieces - there
    if not catalogue.fixings:
        reason = only_where(np.broadcast_to(~posts.is_end, shape), "the catalogue has no fixings")
        return Fixings(positions, pieces, no_words(shape), np.full(shape, np.nan), reason), ()
    options = _options(catalogue, config)
    known = {item.id: number for number, item in enumerate(catalogue.posts)}
    # One more line stands for a post that the catalogue does not have.
    bought = np.array([known.get(item, len(known)) for item in heights.item], dtype=np.int64)
    held = _held(posts, places, clips, need, lasting_uplift, config)
    passed = _passed(held, bought[held.post], options, config)
    smooth = held.lasting_uplift[:, None] & np.array([item.shank == "smooth" for item in options.items])
    better = passed[-1] & ~smooth
    able = np.where(better.any(axis=1)[:, None], better, passed[-1])
    asked = Asked(
        held.post,
        new[held.wire, held.post],
        pace[posts.row[held.post]],
        np.stack([held.up_n, held.down_n, held.side_n]).argmax(axis=0),
        able,
    )
    stands = (new == 0)[held.wire, held.post] & (pieces > 0)[held.wire, held.post]
    by_holder = _compare(held, asked, ~stands, Offers.of(options.items, config.work.labour_per_hour), config)
    best, of_set = np.full(len(held.wire), -1), no_words(len(held.wire))
    for where, compared in by_holder:
        best[where] = compared.best
        of_set[where] = _of_set(compared, config)
        _note_kinds(compared, options.items, config, notes)
    found = best >= 0
    last_resort = found & (smooth & passed[-1])[np.arange(len(best)), best]
    reason = _reasons(held, passed, found, of_set, last_resort)
    reason[stands] = STANDS
    _note_nothing(posts, held, ~found & ~stands & ~is_blank(held.clip), reason, notes)
    _note_smooth(posts.post_id[held.post[last_resort]], notes)
    at, names = (held.wire, held.post), words(item.id for item in options.items)
    item, holds, why = no_words(shape), np.full(shape, np.nan), no_words(shape)
    item[at] = only_where(found, names[best])
    holds[at] = np.where(found, options.holds_n[bought[held.post], best], np.nan)
    why[at] = reason
    return Fixings(positions, pieces, item, holds, why), tuple(o for _, each in by_holder for o in each.options)


def _held(posts: Posts, places: ClipPositions, clips: Clips, need: Need, uplift: BoolArray, config: Config) -> _Held:
    wire = np.repeat(np.arange(len(clips.kind)), len(posts.middle))
    at = wire, np.tile(posts.middle, len(clips.kind))
    up, down, aside, bears_down = (
        _with_guests(values, places.serves)[at]
        for values in (-need.least_n, need.greatest_n, need.side_n, need.bears_down)
    )
    clip = clips.kind[at]
    return _Held(
        *at,
        clip,
        up_n=np.nan_to_num(up),
        down_n=np.nan_to_num(down),
        side_n=np.nan_to_num(aside),
        turns=(clip == "two-way") & (bears_down < CERTAINTY["possible"]),
        is_moved=np.array([one.kind == "foliage" for one in config.wires])[wire],
        lasting_uplift=uplift[at],
    )


def _with_guests(values: FloatArray, serves: BoolArray) -> FloatArray:
    """Greatest value of the wire and of those that its clips hold too, [wire, post]."""
    of_guests = np.fmax.reduce(np.where(serves, values, np.nan), axis=1)
    return np.asarray(np.fmax(values, of_guests))


def _compare(
    held: _Held, asked: Asked, to_fix: BoolArray, offers: Offers, config: Config
) -> list[tuple[IntArray, Compared]]:
    """Sets of fixings for the wires in clips, and for those under staples."""
    fixed = _used(offers.items, config)
    made = []
    for holder, of_holder in (("clip", held.clip != "staple"), ("staple", held.clip == "staple")):
        where = np.flatnonzero(of_holder & to_fix & ~is_blank(held.clip))
        if len(where):
            some = Asked(*(getattr(asked, name)[where] for name in ("post", "pieces", "pace", "pull", "holds")))
            made.append((where, compare_sets(holder, some, offers, config.fixings.most_kinds, fixed)))
    return made


def _used(items: tuple[FixingItem, ...], config: Config) -> tuple[int, ...]:
    """The fixings that the config names, as places in the catalogue."""
    place = {item.id: number for number, item in enumerate(items)}
    return tuple(place[name] for name in dict.fromkeys(config.fixings.use))


def _of_set(compared: Compared, config: Config) -> str:
    if config.fixings.use:
        return "of fixings.use"
    unheld = next(option.unheld[0] for option in compared.options if option.chosen)
    one = len(compared.kinds) < 2
    does = "leave{s} the fewest posts unheld" if unheld else "hold{s} everywhere"
    kinds = "the cheapest kind" if one else f"of the cheapest {len(compared.kinds)} kinds"
    return f"{kinds} that {does.format(s='s' if one else '')}"


def _options(catalogue: Catalogue, config: Config) -> _Options:
    """What every fixing holds on every post of the catalogue; the last line is for a post that it does not have."""
    items = catalogue.fixings
    drawn = np.array([[withdrawal_n(item, post) for item in items] for post in catalogue.posts])
    lets_go = np.array([item.lets_go_n for item in items]) / config.fixings.clip_factor
    holds = np.minimum(drawn.reshape(-1, len(items)) / config.fixings.withdrawal_factor, lets_go)
    fits = np.array([[item.fixes_to == post.material for item in items] for post in catalogue.posts], dtype=bool)
    nowhere = np.zeros((1, len(items)))
    return _Options(items, np.vstack([holds, nowhere]), np.vstack([fits.reshape(-1, len(items)), nowhere > 0.0]))


def _passed(held: _Held, bought: IntArray, options: _Options, config: Config) -> BoolArray:
    """Whether each fixing passes each of `_FILTERS` and all before it, [filter, place, fixing]."""
    items = options.items
    staple = np.array([item.is_staple for item in items])
    hook = np.array([item.kind == "hook" for item in items])  # stands in for a staple on a steel post
    both, down, up = (np.array([item.holds == way for item in items]) for way in ("both", "down", "up"))
    clip = held.clip[:, None]
    lets_move = np.array([item.lets_move for item in items]) | ~held.is_moved[:, None]
    upside_down = up & held.turns[:, None]
    right = [
        np.broadcast_to(both & (staple | hook), lets_move.shape),
        (both & lets_move) | upside_down,
        (both | down) & lets_move,
    ]
    kind = np.select([clip == "staple", clip == "two-way", clip == "one-way"], right, default=False)
    allowed = np.array([Allowed.by(config, item) for item in items], dtype=np.bool_).reshape(-1, len(Allowed._fields))
    told = [held_down_n(item) for item in items]
    # Once one clip has been tested, one that has not is not taken for as good; what holds both ways wants no such test.
    untested = np.nan if any(each is not None for each in told) else np.inf
    down_n = np.where(down, np.array([untested if each is None else each for each in told]), np.inf)
    holds_down = (clip != "one-way") | (down_n >= config.undulation.hold_down_n)
    pull = np.where(up, held.upside_down_n[:, None], held.both_ways_n[:, None])
    of_item = [np.broadcast_to(each, kind.shape) for each in allowed.T]
    of_item.append(holds_down)
    return np.logical_and.accumulate([options.fits[bought], kind, *of_item, options.holds_n[bought] >= pull])


def _reasons(held: _Held, passed: BoolArray, found: BoolArray, of_set: TextArray, smooth: BoolArray) -> TextArray:
    """Why this fixing, or which condition left none, [place]."""
    left = np.asarray(passed.any(axis=2))
    why: TextArray = np.where(found, of_set, "none of the chosen kinds holds the load").astype(object)
    why[smooth] = "smooth in lasting uplift: nothing else holds"
    # The first condition that nothing passes; asked from the last on, so that the first has the last word.
    for number in reversed(range(len(_FILTERS))):
        for clip in ("one-way", "two-way", "staple"):
            why[~left[number] & (held.clip == clip)] = _FILTERS[number].format(clip=clip)
    why[is_blank(held.clip)] = "load not known"
    return why


def _note_kinds(compared: Compared, items: tuple[FixingItem, ...], config: Config, notes: Findings) -> None:
    most = config.fixings.most_kinds
    if not config.fixings.use and len(compared.kinds) > most:
        notes.note(
            "more-kinds",
            f"{many(most, 'kind')} of fixing would leave wires unheld that others hold (fixings.most_kinds = {most}); "
            f"{len(compared.kinds)} are taken: {name_some(items[kind].id for kind in compared.kinds)}.",
        )


def _note_nothing(posts: Posts, held: _Held, where: BoolArray, reason: TextArray, notes: Findings) -> None:
    if where.any():
        notes.note(
            "no-fixing",
            f"No fixing suits {many(where.sum(), 'place')}, up to {held.both_ways_n[where].max():.0f} N a line "
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
