"""What a join, a coil carried or a walk costs: one rule for hours, orders and coils."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from wirerun.rules.order_of_work import RUN_OUT
from wirerun.rules.wage import hour_to_weigh
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import WireEndItem, WireItem

# For weighing only, where the catalogue or the config is silent: minutes as in the demo's rates, an hour of work as a
# quarter of a coil where that has a price. Choices.
_MINUTES: Final = {"join": 5.0, "carry coils": 3.0}
_HOURS_OF_A_COIL: Final = 4.0


def cheapest_end(items: Sequence[WireEndItem], use: str) -> WireEndItem | None:
    """Return the item that is cheapest for an end or a join; None where the catalogue has none."""
    ours = [item for item in items if item.use == use]
    return min(ours, key=lambda item: (item.price is None, item.pieces * (item.price or 0.0)), default=None)


@dataclass(frozen=True, slots=True)
class CoilPrices:
    """Prices of a coil, of a join, of carrying a coil into a zone and of walking, all but the first on flat ground.

    Attributes
    ----------
    coil : float
        Of a coil. [currency]
    joiner : float
        Of what one join needs. [currency]
    join_work, carry_work : float
        Work of a join and of carrying a coil, on flat ground. [currency]
    walk_per_m : float
        Work of a walk there and back along a row, on flat ground. [currency/m]
    """

    coil: float
    joiner: float
    join_work: float
    carry_work: float
    walk_per_m: float


def coil_prices(item: WireItem, catalogue: Catalogue, work: WorkSettings, *, to_weigh: bool) -> CoilPrices:
    """Prices of cutting one kind of wire.

    Parameters
    ----------
    item : WireItem
        The wire.
    catalogue : Catalogue
        Its joiners and rates.
    work : WorkSettings
        What an hour costs.
    to_weigh : bool
        Whether what has no price or no rate is given one, so that one way can be weighed against another; else it is
        left out.
    """
    hour = work.labour_per_hour or 0.0
    coil = item.price or 0.0
    minutes: dict[str, float] = {rate.id: rate.minutes for rate in catalogue.rates}
    if to_weigh:
        hour = hour or (coil / _HOURS_OF_A_COIL if coil else hour_to_weigh(work))
        coil = coil or _HOURS_OF_A_COIL * hour
        minutes = _MINUTES | minutes
    joiner = cheapest_end(catalogue.wire_ends, "join")
    return CoilPrices(
        coil=coil,
        joiner=joiner.pieces * (joiner.price or 0.0) if joiner else 0.0,
        join_work=hour * minutes.get("join", 0.0) / 60.0,
        carry_work=hour * minutes.get("carry coils", 0.0) / 60.0,
        walk_per_m=hour * RUN_OUT.passes_per_line / work.walking_m_per_min / 60.0,
    )
