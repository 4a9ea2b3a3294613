"""How many posts without need two sections may take in between them: as many as cost less than changing kinds twice."""

from typing import Final

from wirerun.findings import Findings
from wirerun.rules.clip_prices import CHANGE_KIND, CHANGES
from wirerun.rules.usable_fixings import Allowed, cheapest_with_work, pieces_of_a_post
from wirerun.rules.wage import hour_to_weigh
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import PostItem
from wirerun.wording import many

_MINUTES: Final = 60.0


def posts_worth_joining(config: Config, catalogue: Catalogue, post: PostItem | None, notes: Findings | None) -> int:
    """Most posts without need between two sections that are cheaper with two-way clips than with a change of kind.

    A post taken in costs what two-way clips cost more than one-way ones, in price and minutes; one left out costs the
    crew two changes of kind. Of each way the cheapest clip of the catalogue that the config allows is taken.

    Parameters
    ----------
    config : Config
        Wires and clips, which fixings, what an hour costs; and `undulation.join_posts`, which the answer never passes.
    catalogue : Catalogue
        Prices and minutes, and the rate "change kind"; 0 where it has none of them.
    post : PostItem or None
        The intermediate post, 1.9 m or so out of the ground.
    notes : Findings or None
        Hears where no post is worth it.
    """
    most = config.undulation.join_posts
    if not most or post is None:
        return 0
    hour = hour_to_weigh(config.work)
    usable = [item for item in catalogue.fixings if all(Allowed.by(config, item)) and item.fixes_to == post.material]
    two_way = cheapest_with_work((item for item in usable if item.holds == "both" and item.lets_move), hour)
    one_way = cheapest_with_work((item for item in usable if item.holds == "down"), hour)
    minutes = next((rate.minutes for rate in catalogue.rates if rate.id == CHANGE_KIND), 0.0)
    change = CHANGES * minutes / _MINUTES * hour
    if two_way is None or one_way is None:
        return 0
    dearer = pieces_of_a_post(config)[0] * (two_way - one_way)
    if dearer <= 0.0:
        return most
    worth = min(most, int(change / dearer + 1e-9))
    if worth < most and notes is not None:
        taken = f"gaps of up to {many(worth, 'post')} are taken in" if worth else "none is taken in"
        notes.note(
            "sections-apart",
            f"A post without need between two undulating sections would cost {dearer:.2f} more with two-way clips; two "
            f"changes of kind cost {change:.2f}: {taken} (undulation.join_posts = {most}).",
        )
    return worth
