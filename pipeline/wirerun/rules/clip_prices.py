"""What wrong clips cost, and from which probability of the need on a two-way clip is the cheaper.

The grower buys a two-way clip now, or the crew comes back to a wire that has left its one-way clip:

    a two-way clip costs C more, and one change of kind K, whether it is needed or not; a one-way clip costs P V, the
    coming back and the change of clips, where P is the probability of the need.

So two-way clips are planned where P V > C + K. A section alone in its row costs two changes of kind, a post that makes
one longer none: one is taken for all. Where a look on site is worth its time (`look_on_site`), a one-way clip costs
that look and P times the change of clips, if that is less.
"""

from collections.abc import Iterable
from typing import Final, NamedTuple

from wirerun.findings import Findings
from wirerun.rules.look_on_site import LookMinutes
from wirerun.rules.usable_fixings import Allowed, cheapest_with_work, pieces_of_a_post
from wirerun.rules.wage import hour_to_weigh
from wirerun.settings import CERTAINTY, Catalogue, Config, UndulationSettings
from wirerun.settings.catalogue import PostItem
from wirerun.settings.fixing_item import FixingItem

#: Rate of the catalogue: laying one kind of clip aside and taking up another.
CHANGE_KIND: Final = "change kind"
#: Changes of kind that a section asks for: into its kind and out of it again.
CHANGES: Final = 2
# Where the catalogue is silent. Choices, as in the demo's: a clip's price, and how much dearer a two-way one is.
_CLIP: Final = 0.2
_TWO_WAY: Final = 0.15
_MINUTES: Final = 60.0


class ClipPrices(NamedTuple):
    """Prices of the clips of one intermediate post, with their work on flat ground [currency].

    Attributes
    ----------
    one_way : float
        One-way clips on all its clipped lines.
    two_way : float
        Two-way clips there, more than one-way ones.
    change_kind : float
        Laying one kind of clip aside and taking up another.
    change_clips : float
        Taking the one-way clips off and setting two-way ones.
    come_back, look : float
        Coming back to the post; looking at it while the wires are strained.
    """

    one_way: float
    two_way: float
    change_kind: float
    change_clips: float
    come_back: float
    look: float

    @property
    def missed(self) -> float:
        """Return what it costs to find out later that two-way clips are needed."""
        return self.come_back + self.change_clips

    @property
    def two_way_from(self) -> float:
        """Return the probability of the need from which on two-way clips cost less.

        What is certain is planned at any price, what is not even possible at none.

        >>> prices = ClipPrices(1.0, 0.4, 0.3, 2.2, 1.8, 0.6)
        >>> round(prices.two_way_from, 3)
        0.175
        >>> prices._replace(look=0.1).two_way_from  # to look first is cheaper, unless the need is likelier
        0.2727272727272727
        """
        dearer = self.two_way + self.change_kind
        least = dearer / self.missed if self.missed > 0.0 else 1.0
        if self.change_clips > 0.0:
            least = max(least, (dearer - self.look) / self.change_clips)
        return max(min(least, CERTAINTY["certain"]), CERTAINTY["possible"])


def clip_prices(config: Config, catalogue: Catalogue, item: PostItem | None) -> ClipPrices:
    """Prices from the catalogue, and from [fitting] where that has one; ours where both are silent.

    Parameters
    ----------
    config : Config
        Wires, clips, which fixings, what an hour costs.
    catalogue : Catalogue
        Its fixings and rates: of each way the cheapest that the config allows.
    item : PostItem or None
        The intermediate post, for what it is made of; timber without one.
    """
    hour = hour_to_weigh(config.work)
    material = "timber" if item is None else item.material
    fixings = [each for each in catalogue.fixings if each.fixes_to == material and all(Allowed.by(config, each))]
    movable = [each for each in fixings if each.lets_move]
    opens = [each for each in movable if each.holds != "up"]
    one_way = cheapest(opens, hour, _CLIP)
    both = cheapest((each for each in movable if each.holds == "both"), hour, one_way + _TWO_WAY)
    clips, given = pieces_of_a_post(config)[0], config.fitting.two_way_price
    two_way = clips * max(both - one_way, 0.0) if given is None else _lines(config) * given
    off = min((each.removal_minutes for each in opens if each.removal_minutes is not None), default=0.0)
    kinds = next((rate.minutes for rate in catalogue.rates if rate.id == CHANGE_KIND), 0.0)
    minutes, wage = LookMinutes.of(catalogue), hour / _MINUTES
    return ClipPrices(
        one_way=clips * one_way,
        two_way=two_way,
        change_kind=kinds * wage,
        change_clips=clips * (both + off * wage),
        come_back=minutes.come_back * wage,
        look=minutes.look * wage,
    )


def by_price(
    undulation: UndulationSettings,
    config: Config,
    catalogue: Catalogue,
    item: PostItem | None,
    notes: Findings | None,
) -> UndulationSettings:
    """Settings with the probability from which on two-way clips cost less, where they ask for it.

    Parameters
    ----------
    undulation : UndulationSettings
        To fill in.
    config, catalogue, item
        As for `clip_prices`.
    notes : Findings or None
        Hears of the prices and the probability.
    """
    if undulation.plan_for != "price" or undulation.two_way_from is not None:
        return undulation
    prices = clip_prices(config, catalogue, item)
    least = prices.two_way_from
    if notes is not None:
        notes.note(
            "clips-by-price",
            f"Two-way clips are planned where the probability of the need is {least:.2g} or more: there they cost less "
            f'(undulation.plan_for = "price"). On a post they cost {prices.two_way:.2f} more than one-way ones, and a '
            f"change of kind {prices.change_kind:.2f}; where they are missing, {prices.change_clips:.2f} for other "
            f"clips and {prices.come_back:.2f} to come back (numbers of ours where the catalogue has none).",
        )
    return undulation.model_copy(update={"two_way_from": least})


def cheapest(items: Iterable[FixingItem], hour: float, otherwise: float) -> float:
    """Price of the cheapest with its work; another number where none has a price."""
    price = cheapest_with_work(items, hour)
    return otherwise if price is None else price


def _lines(config: Config) -> int:
    return sum(wire.lines for wire in config.wires if wire.holder == "clip")
