"""What one more post costs, a two-way clip in place of a one-way one, a clip that is missed, and clips set off height.

To weigh one choice against another: of each kind the cheapest of the catalogue counts, on flat ground. What is ordered,
the chosen fixings decide.
"""

from dataclasses import dataclass
from typing import Final

from wirerun.rules.clip_prices import CHANGES, cheapest, clip_prices
from wirerun.rules.from_catalogue import cheapest_post
from wirerun.rules.usable_fixings import Allowed, pieces_of_a_post
from wirerun.rules.wage import hour_to_weigh
from wirerun.settings import Catalogue, Config

# Where the catalogue is silent. Choices, as in the demo's: a post with its clips, a staple.
_POST: Final = 6.0
_STAPLE: Final = 0.2
# To read the step off the card and to move the marking stick by it, for all clips of a post. Choice.
_SHIFT_MINUTES: Final = 0.3
_MINUTES: Final = 60.0
# Tasks of one more post beside setting it.
_FOR_A_POST: Final = ("set out and peg", "carry out posts")


@dataclass(frozen=True, slots=True)
class PostPrices:
    """Prices of one intermediate post's choices, with the work on flat ground [currency].

    Attributes
    ----------
    post : float
        A post, set, with one-way clips and staples.
    two_way : float
        Two-way clips on all its clipped lines, more than one-way ones.
    missed : float
        Finding out later that it should have had them.
    shift : float
        Setting its clips off their height.
    change : float
        A change of kind from it to the next post; no more than leaves gaps open that `undulation.join_posts` does not
        join.
    """

    post: float
    two_way: float
    missed: float
    shift: float
    change: float


def post_prices(config: Config, catalogue: Catalogue) -> PostPrices:
    """Prices from the catalogue, and from [fitting] where that has one.

    By price a missed clip costs what coming back does, as in `clip_prices`. A certainty in `plan_for` is taken at its
    word: who plans a two-way clip from a probability p on holds a missed one to cost 1/p times as much as that, the
    change of kind with it, twice for "likely". So the clip that costs least is the one that is planned.

    Parameters
    ----------
    config : Config
        Wires, clips, posts, what an hour costs, prices that override.
    catalogue : Catalogue
        Its posts, fixings, rates and charges.
    """
    hour = hour_to_weigh(config.work)
    item = cheapest_post(catalogue, "intermediate", config.posts.intermediate_item, config.posts.height_out_m)
    material = "timber" if item is None else item.material
    fixings = [each for each in catalogue.fixings if each.fixes_to == material and all(Allowed.by(config, each))]
    staple = cheapest((f for f in fixings if f.is_staple or (f.kind == "hook" and f.holds == "both")), hour, _STAPLE)
    staples, clips = pieces_of_a_post(config)[1], clip_prices(config, catalogue, item)
    rates = sum(each.minutes for each in catalogue.rates if each.per == "post" and each.id in _FOR_A_POST)
    charge = sum(each.price or 0.0 for each in catalogue.charges if each.per == "post")
    minutes = rates + (item.minutes if item is not None else 0.0)
    bought = _POST if item is None or item.price is None else item.price + charge + minutes * hour / _MINUTES
    given = config.fitting
    post = bought + clips.one_way + staples * staple if given.post_price is None else given.post_price
    undulation = config.undulation
    dearer = clips.two_way + clips.change_kind
    missed = clips.missed if undulation.plan_for == "price" else dearer / undulation.planned_from
    change = min(clips.change_kind, (undulation.join_posts + 1) * clips.two_way / CHANGES)
    return PostPrices(post, clips.two_way, missed, _SHIFT_MINUTES * hour / _MINUTES, change)
