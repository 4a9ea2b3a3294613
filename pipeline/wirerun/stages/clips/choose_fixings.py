"""Which fixing of the catalogue goes on each post and wire, how many, and why."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray
from wirerun.mechanics.timber import nail_withdrawal, screw_withdrawal
from wirerun.rules.clip_positions import clip_positions
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import FixingItem, PostItem

BoolArray = NDArray[np.bool_]

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


def choose_fixings(
    posts: pd.DataFrame, clips: pd.DataFrame, config: Config, catalogue: Catalogue
) -> tuple[pd.DataFrame, list[Finding]]:
    """Fixing of every intermediate post and wire: the cheapest in price and labour that suits and holds.

    It suits where it fixes to the post's material, holds the ways the planned clip must, is driven as the config
    asks, and is safe for nets where they are used. It holds where the worst pull of one line over all states, up, down
    and sideways together, is no more than what lets go first: the wire out of the fixing (over `clip_factor`) or the
    fixing out of the timber (over `withdrawal_factor`). The whole pull is taken along the fastener, as if it drew it
    straight out; shear is not looked at. A smooth staple or nail is taken for a wire that pulls up as strung only
    where nothing else holds it (Eurocode 5, 8.3.2: no smooth nails under lasting axial load).

    A wire has a fixing at each of its clip positions on the post.

    Parameters
    ----------
    posts : DataFrame
        post_id, block_id, post_item, height_out_m.
    clips : DataFrame
        post_id, post (index into posts), wire_id, clip, load_min_n, load_max_n, load_tight_n, load_side_n.
    config : Config
        wires, clips, fixings, undulation and work.
    catalogue : Catalogue
        Fixings and posts.

    Returns
    -------
    clips : DataFrame
        With positions, pieces, fixing, holds_n and fixing_reason.
    findings : list of Finding
        Posts where nothing suits; smooth staples in lasting uplift.
    """
    held = clip_positions(posts["height_out_m"].to_numpy(), config.clips, config.wires).held.sum(axis=2)
    wire = clips["wire_id"].map({wire.id: number for number, wire in enumerate(config.wires)}).to_numpy()
    clips = clips.assign(positions=held[wire, clips["post"].to_numpy()])
    clips["pieces"] = clips["positions"] * clips["wire_id"].map({wire.id: wire.lines for wire in config.wires})
    if not catalogue.fixings:
        return clips.assign(fixing=None, holds_n=np.nan, fixing_reason="the catalogue has no fixings"), []
    options = _options(catalogue, config)
    known = {item.id: number for number, item in enumerate(catalogue.posts)}
    # One more line stands for a post that the catalogue does not have.
    on_post = posts["post_item"].map(known).fillna(len(known)).astype(np.int64).to_numpy()[clips["post"].to_numpy()]
    need = _need(clips)
    suits = _suits(clips, options, config)
    passed = np.logical_and.accumulate([options.fits[on_post], *suits, options.holds_n[on_post] >= need[:, None]])
    uplift = (clips["load_tight_n"] < -config.undulation.hold_down_n).to_numpy()
    smooth = np.array([item.shank == "smooth" for item in options.items])
    cost = _cost(options.items, config.work.labour_per_hour or 0.0) + _LAST_RESORT * (uplift[:, None] & smooth)
    best = np.where(passed[-1], cost, np.inf).argmin(axis=1)
    found = passed[-1].any(axis=1)
    names = np.array([item.id for item in options.items], dtype=object)
    clips["fixing"] = pd.Series(names[best], index=clips.index).where(found)
    clips["holds_n"] = np.where(found, options.holds_n[on_post, best], np.nan)
    clips["fixing_reason"] = _reasons(clips, passed, found & uplift & smooth[best])
    return clips, [
        *_nothing_suits(posts, clips, ~found & clips["clip"].notna().to_numpy(), need),
        *_smooth(posts, clips[found & uplift & smooth[best]]),
    ]


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


def _need(clips: pd.DataFrame) -> FloatArray:
    """Worst pull of one line, vertical and sideways together [N]; up counts only where the clip must hold it."""
    up = np.where(clips["clip"] == "one-way", 0.0, np.maximum(-clips["load_min_n"], 0.0))
    vertical = np.fmax(np.fmax(up, clips["load_max_n"]), 0.0)
    return np.asarray(np.hypot(vertical, np.nan_to_num(clips["load_side_n"])))


def _suits(clips: pd.DataFrame, options: _Options, config: Config) -> tuple[BoolArray, ...]:
    """Whether each fixing is of the right kind, driven rightly and net-safe, shape (clips, fixings) each."""
    items = options.items
    staple = np.array([item.is_staple for item in items])
    hook = np.array([item.kind == "hook" for item in items])  # stands in for a staple on a steel post
    both = np.array([item.holds == "both" for item in items])
    down = np.array([item.holds in ("down", "both") for item in items])
    clip = clips["clip"].to_numpy()[:, None]
    right = [both & (staple | hook), both & ~staple, down & ~staple]
    kind = np.select([clip == "staple", clip == "two-way", clip == "one-way"], right)
    shut_out = {"hand": "air", "air": "hand", "any": ""}[config.fixings.driven]
    driven = np.array([item.driven != shut_out for item in items])
    net_safe = np.array([item.net_safe or not config.clips.nets for item in items])
    return kind.astype(bool), np.broadcast_to(driven, kind.shape), np.broadcast_to(net_safe, kind.shape)


def _cost(items: tuple[FixingItem, ...], labour_per_hour: float) -> FloatArray:
    """Price and labour of one piece, shape (fixings,)."""
    priced = np.array([_UNPRICED if item.price is None else item.price for item in items])
    fastener = np.array([item.fasteners * (item.fastener_price or 0.0) for item in items])
    return np.asarray(priced + fastener + np.array([item.minutes for item in items]) / 60.0 * labour_per_hour)


def _reasons(clips: pd.DataFrame, passed: BoolArray, smooth: BoolArray) -> pd.Series:
    """Why this fixing, or which condition left none."""
    left = np.asarray(passed.any(axis=2))
    count = passed[-1].sum(axis=1)
    most = [f"cheapest of {n} that hold" if n > 1 else "the only one that holds" for n in range(passed.shape[2] + 1)]
    why = np.array(most, dtype=object)[count]
    why = np.where(smooth, "smooth in lasting uplift: nothing else holds", why)
    # The first condition that nothing passes; asked from the last on, so that the first has the last word.
    for number in reversed(range(len(_FILTERS))):
        sentence = clips["clip"].map(lambda clip, text=_FILTERS[number]: text.format(clip=clip)).to_numpy()
        why = np.where(~left[number], sentence, why)
    return pd.Series(np.where(clips["clip"].isna(), "load not known", why), index=clips.index)


def _nothing_suits(posts: pd.DataFrame, clips: pd.DataFrame, where: BoolArray, need: FloatArray) -> list[Finding]:
    if not where.any():
        return []
    lost = clips[where]
    sentence = (
        f"No fixing of the catalogue suits {len(lost)} place(s), up to {need[where].max():.0f} N a line ("
        f"{'; '.join(sorted(lost['fixing_reason'].unique()))}); they are not in the materials: "
        f"{name_some(lost['post_id'].unique())}."
    )
    return [Finding("no-fixing", str(posts["block_id"].iloc[0]), sentence)]


def _smooth(posts: pd.DataFrame, clips: pd.DataFrame) -> list[Finding]:
    if clips.empty:
        return []
    sentence = (
        f"Smooth staples or nails hold {len(clips)} wire(s) that pull up for good, for want of others in the "
        f"catalogue; Eurocode 5 (8.3.2) does not rely on them: {name_some(clips['post_id'].unique())}."
    )
    return [Finding("smooth-in-uplift", str(posts["block_id"].iloc[0]), sentence)]
