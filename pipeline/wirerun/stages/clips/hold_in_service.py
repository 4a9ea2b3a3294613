"""Whether the planned fixings hold in service: pulled out of the post and pushed along it at once, clip and timber."""

from typing import Final, NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray, places_in
from wirerun.findings import Findings
from wirerun.mechanics.fastener import used_together
from wirerun.model.clips import Fixings, Need
from wirerun.model.layout import PostHeights, Posts
from wirerun.model.service import GIVES, Held, InService, ServicePlaces
from wirerun.rules.fixing_strength import shear_n, withdrawal_n
from wirerun.rules.usable_fixings import Allowed
from wirerun.service_state import ServiceState
from wirerun.settings import Catalogue, Config, WireSettings
from wirerun.settings.fixing_item import FixingItem
from wirerun.wording import many, number


class _Strength(NamedTuple):
    """What the catalogue's fixings bear for one wire; axes post of the catalogue, fixing.

    One more post stands for one that the catalogue does not have: there nothing is known.
    """

    pull_n: FloatArray
    push_n: FloatArray
    lets_go_n: FloatArray
    smooth: BoolArray
    down_only: BoolArray
    up_only: BoolArray
    fits: BoolArray

    @classmethod
    def of(cls, wire: WireSettings, state: ServiceState, config: Config, catalogue: Catalogue) -> "_Strength":
        items, posts, asked = catalogue.fixings, catalogue.posts, config.service
        shape = (len(posts), len(items))
        pull = np.array([[withdrawal_n(item, post) for item in items] for post in posts]).reshape(shape)
        arm = [wire.diameter_mm / 2.0 if item.is_staple else asked.stand_off_mm for item in items]
        each = list(zip(items, arm, strict=True))
        push = np.array([[shear_n(item, post, off, asked.fastener_n_mm2) for item, off in each] for post in posts])
        fits = np.array([[item.fixes_to == post.material for item in items] for post in posts], dtype=np.bool_)
        smooth = np.array([item.shank == "smooth" for item in items], dtype=np.bool_)
        if state == ServiceState.HARVEST and asked.smooth_keeps is not None:
            pull[np.isfinite(pull) & smooth] *= asked.smooth_keeps
        unknown = np.full((1, len(items)), np.nan)
        return cls(
            np.vstack([pull / config.fixings.withdrawal_factor, unknown]),
            np.vstack([push.reshape(shape) / asked.shear_factor, unknown]),
            np.array([item.lets_go_n for item in items]) / config.fixings.clip_factor,
            smooth,
            np.array([item.holds == "down" for item in items], dtype=np.bool_),
            np.array([item.holds == "up" for item in items], dtype=np.bool_),
            np.vstack([fits.reshape(shape), np.zeros((1, len(items)), dtype=np.bool_)]),
        )

    def used(self, post: IntArray, item: IntArray, asks: "_Asks", config: Config) -> FloatArray:
        """Load over what bears it, by each of `GIVES`, the shapes broadcast: [gives, ...] [-]."""
        pull, push = self.pull_n[post, item], self.push_n[post, item]
        upright = np.abs(asks.load_n)
        drawn, pushed = np.nan_to_num(_over(asks.side_n, pull)), np.nan_to_num(_over(upright, push))
        hold_n, aside_n = config.undulation.hold_down_n, config.undulation.hold_side_n
        open_clip, turned = self.down_only[item], self.up_only[item]
        used = np.stack(
            np.broadcast_arrays(
                used_together(drawn, pushed, self.smooth[item]),
                np.hypot(upright, asks.side_n) / self.lets_go_n[item],
                np.where(open_clip, _over(asks.more_up_n, hold_n), 0.0),
                np.where(open_clip | turned, _over(asks.side_n, aside_n), 0.0),
                np.where(turned, _over(asks.more_down_n, hold_n), 0.0),
            )
        )
        known = ~np.isnan(asks.load_n + asks.side_n) & ~np.isnan(pull)
        return np.where(known, used, np.nan)


class _Asks(NamedTuple):
    """What one wire asks of its fixings: load (down, negative up) and side, and what of it counts the other way [N].

    A pull up, or down, that the bare wire has in some state of its own as well is judged there, by its probability:
    here it does not count again.
    """

    load_n: FloatArray
    side_n: FloatArray
    more_up_n: FloatArray
    more_down_n: FloatArray

    @classmethod
    def of(cls, each: InService, wire: int, need: Need) -> "_Asks":
        load = each.load_n[wire]
        up = np.where(load < need.least_n[wire] - _SAME_N, np.maximum(-load, 0.0), 0.0)
        down = np.where(load > need.greatest_n[wire] + _SAME_N, np.maximum(load, 0.0), 0.0)
        return cls(load, each.side_n[wire], up, down)

    def at(self, post: IntArray) -> "_Asks":
        """Return what it asks at some posts."""
        return _Asks(*(values[post] for values in self))


# A load that is asked of what bears none, over what it bears.
_FAR_TOO_MUCH: Final = 1e3
# Loads as near as this are one. [N]
_SAME_N: Final = 1e-3
# Spans that would have to be so many times shorter are no advice. Choice.
_NO_USE: Final = 4.0


def _over(load: FloatArray, bears: FloatArray | float) -> FloatArray:
    """Load over what bears it [-]; no load uses nothing of it, and what bears nothing is used far too much."""
    bears = np.asarray(bears, dtype=np.float64)
    share = np.where(bears > 0.0, load / np.where(bears > 0.0, bears, 1.0), np.where(load > 0.0, _FAR_TOO_MUCH, 0.0))
    return np.asarray(np.minimum(share, _FAR_TOO_MUCH))


def hold_in_service(
    standing: tuple[Posts, PostHeights],
    places: ServicePlaces,
    states: tuple[InService, ...],
    planned: tuple[Need, Fixings],
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
) -> tuple[Held, ...]:
    """How much of what each planned fixing bears is used in every service state, and what would give first.

    A fixing sits on the side of its post, square to the row: a push of the wire to the side, outwards, draws its
    fasteners out of the timber; a load up or down is across them. Both together by Eurocode 5, 8.3.3. Beside the
    timber the clip itself counts (`lets_go_n`), and of a one-way clip what it holds the other way and sideways
    (`undulation.hold_down_n`, `hold_side_n`). A push towards the post only presses the fixing on: the wind comes from
    either side, and so the worse is taken everywhere.

    Parameters
    ----------
    standing : Posts, PostHeights
        The posts, and which are bought.
    places : ServicePlaces
        Whose clip holds each wire.
    states : tuple of InService
        What the wires ask.
    planned : Need, Fixings
        What the bare wire asks, and the fixings planned for it.
    config : Config
        Factors and limits.
    catalogue : Catalogue
        Fixings and posts.
    notes : Findings
        Hears where something does not hold, and what would.
    """
    posts, heights = standing
    need, fixings = planned
    bought = places_in((item.id for item in catalogue.posts), heights.item)
    post_item = np.where(bought < 0, len(catalogue.posts), bought)
    own = places_in((item.id for item in catalogue.fixings), fixings.item)
    here = np.take_along_axis(own, places.host, axis=0)
    used = np.full((len(states), *here.shape), np.nan)
    gives = np.zeros(used.shape, dtype=np.int64)
    if not catalogue.fixings:
        return _held(used, gives)
    for which, wire in enumerate(config.wires):
        strengths = [_Strength.of(wire, each.on.state, config, catalogue) for each in states]
        asks = [_Asks.of(each, which, need) for each in states]
        for at, (strength, ask) in enumerate(zip(strengths, asks, strict=True)):
            by = strength.used(post_item, np.maximum(here[which], 0), ask, config)
            known = (here[which] >= 0) & ~np.isnan(by).any(axis=0) & ~posts.is_end
            used[at, which] = np.where(known, by.max(axis=0), np.nan)
            gives[at, which] = by.argmax(axis=0)
        if (used[:, which] > 1.0).any():
            remedy = _Remedy(post_item, wire, strengths, asks, config, catalogue)
            _note_held(posts, states, used[:, which], gives[:, which], remedy, notes)
    return _held(used, gives)


def _held(used: FloatArray, gives: IntArray) -> tuple[Held, ...]:
    return tuple(Held(*each) for each in zip(used, gives, strict=True))


class _Remedy(NamedTuple):
    """What a remedy for one wire is looked for by: its posts, and what it asks in every state."""

    post_item: IntArray
    wire: WireSettings
    strengths: list[_Strength]
    asks: list[_Asks]
    config: Config
    catalogue: Catalogue

    def told(self, over: BoolArray) -> str:
        """What of the catalogue would hold in every state where the planned fixings do not, [post], in words."""
        where, catalogue = np.flatnonzero(over), self.catalogue
        items = [place for place, item in enumerate(catalogue.fixings) if _suits(item, self.wire, self.config)]
        if not items:
            return "The catalogue has no fixing for it that the config allows and that holds both ways."
        at, post = np.array(items, dtype=np.int64)[:, None], self.post_item[where]
        used = [
            strength.used(post, at, asks.at(where), self.config).max(axis=0)
            for strength, asks in zip(self.strengths, self.asks, strict=True)
        ]
        most = np.where(self.strengths[0].fits[post, at], np.fmax.reduce(used), np.inf)
        holds = (most <= 1.0).sum(axis=1)
        worst = most.max(axis=1)
        prices = (catalogue.fixings[item].price for item in items)
        dear = np.array([np.inf if price is None else price for price in prices])
        # Of those that hold everywhere the cheapest, else the one that is nearest to it.
        best = int(np.lexsort((np.where(worst <= 1.0, dear, worst), -holds))[0])
        name = catalogue.fixings[items[best]].id
        if holds[best] == len(where):
            return f"{name} would hold there."
        factor = worst[best]
        about = f", to about {self.config.posts.max_span_m / factor:.1f} m," if factor < _NO_USE else ""
        least = f"{name} would hold at {holds[best]} of them" if holds[best] else "Nothing of the catalogue holds there"
        return f"{least}; shorter spans{about} or less load would do the rest."


def _note_held(
    posts: Posts,
    states: tuple[InService, ...],
    used: FloatArray,
    gives: IntArray,
    remedy: _Remedy,
    notes: Findings,
) -> None:
    """Say how many fixings of a wire do not hold in each state, what gives first, and what would hold."""
    over = used > 1.0
    state, post = np.unravel_index(int(np.nanargmax(used)), used.shape)
    asks = remedy.asks[state]
    load = asks.load_n[post]
    way = f"{abs(load):.0f} N {'down' if load >= 0.0 else 'up'}, {asks.side_n[post]:.0f} N to the side"
    counted = np.bincount(gives[over], minlength=len(GIVES))
    first = ", ".join(GIVES[cause] for cause in np.argsort(-counted, kind="stable") if counted[cause])
    of_states = ", ".join(
        f"{each.on.state} {number(count)}" for each, count in zip(states, over.sum(axis=1), strict=True) if count
    )
    notes.note(
        "service-fixing",
        f"Of {many((~np.isnan(used)).any(axis=0).sum(), 'fixing')} of wire {remedy.wire.id} some do not hold in "
        f"service by the config's numbers: {of_states}. First to give: {first}. Worst at {posts.post_id[post]}, "
        f"{states[state].on.state}: {way}, {100.0 * used[state, post]:.0f} % of what it bears. "
        f"{remedy.told(np.asarray(over.any(axis=0)))} No safety determination: a competent person judges.",
    )


def _suits(item: FixingItem, wire: WireSettings, config: Config) -> bool:
    """Whether a fixing that holds both ways may take the planned one's place."""
    right = item.kind == "hook" or item.is_staple if wire.holder == "staple" else True
    return all(Allowed.by(config, item)) and item.holds == "both" and right and (wire.kind == "fixed" or item.lets_move)
