"""What the catalogue says of the config's posts, wires and adjusters: which is bought, and what it withstands."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Final, TypeVar

from wirerun.errors import SettingError
from wirerun.findings import Findings
from wirerun.rules.clip_prices import by_price
from wirerun.rules.clip_test import held_down_n
from wirerun.rules.joining import posts_worth_joining
from wirerun.settings import AdjusterKind, Catalogue, Config, UndulationSettings, WireSettings
from wirerun.settings.catalogue import PostItem, WireItem
from wirerun.settings.fixing_item import FixingItem

# Diameters on a label are rounded; two wires of the trade differ by more than this. Choice.
_SAME_DIAMETER_MM: Final = 0.01
# A post may be short of its height by as much as nobody sees. Choice.
_SAME_HEIGHT_M: Final = 0.001
_Item = TypeVar("_Item", PostItem, WireItem, FixingItem)


def take_from_catalogue(config: Config, catalogue: Catalogue, notes: Findings | None = None) -> Config:
    """Config with the catalogue's wires, breaking loads, adjusters and pull-out filled in where it names none.

    Parameters
    ----------
    config : Config
        As one block has it.
    catalogue : Catalogue
        What can be bought.
    notes : Findings, optional
        Hears of wires that the catalogue does not have.

    Returns
    -------
    Config
        With wires.item and wires.breaking_n, adjusters.kinds, posts.post_pull_out_n, undulation.hold_down_n, by price
        undulation.two_way_from, and no more undulation.join_posts than pay; else each stays as it is where the
        config has one, or the catalogue nothing that fits.

    Raises
    ------
    SettingError
        If the config names a post, wire or fixing that the catalogue has not, or a wire of another diameter.
    """
    for name in config.fixings.use:
        _named(catalogue.fixings, name, "fixings.use")
    wires = tuple(_wire(wire, catalogue) for wire in config.wires)
    kinds = config.adjusters.kinds or tuple(
        AdjusterKind(id=a.id, least_mm=a.least_mm, most_mm=a.most_mm, barrel_mm=a.barrel_mm, tail_m=a.tail_m)
        for a in catalogue.adjusters
    )
    posts = config.posts
    item = cheapest_post(catalogue, "intermediate", posts.intermediate_item, posts.height_out_m)
    cheapest_post(catalogue, "end", posts.end_item, posts.height_out_m)
    if posts.post_pull_out_n is None and item is not None:
        posts = posts.model_copy(update={"post_pull_out_n": item.pull_out_n})
    for wire in wires:
        if wire.item is None and notes is not None:
            notes.note(
                "not-in-catalogue",
                f"The catalogue has no wire of {wire.diameter_mm:g} mm; it is listed by length, without coils and "
                "price.",
                wire.id,
            )
    return config.model_copy(
        update={
            "wires": wires,
            "posts": posts,
            "undulation": by_price(_undulation(config, catalogue), config, catalogue, item, notes).model_copy(
                update={"join_posts": posts_worth_joining(config, catalogue, item, notes)}
            ),
            "adjusters": config.adjusters.model_copy(update={"kinds": kinds}),
        }
    )


def _undulation(config: Config, catalogue: Catalogue) -> UndulationSettings:
    """Undulation settings with what the least of the one-way clips holds, where the config does not say."""
    undulation = config.undulation
    known = one_way_holds(config, catalogue)
    if "hold_down_n" in undulation.model_fields_set or not known:
        return undulation
    return undulation.model_copy(update={"hold_down_n": min(known)})


def one_way_holds(config: Config, catalogue: Catalogue) -> list[float]:
    """Upward pull that each one-way clip holds of which the catalogue says so, of those that may be used [N]."""
    used = [item for item in catalogue.fixings if not config.fixings.use or item.id in config.fixings.use]
    return [pull for item in used if (pull := held_down_n(item)) is not None]


def driven_as_asked(catalogue: Catalogue, config: Config) -> Catalogue:
    """Catalogue whose fixings are driven as the config asks: each in the quickest way that it allows."""
    fixings = tuple(item.driven_as(config.fixings.driven) for item in catalogue.fixings)
    return replace(catalogue, fixings=fixings)


def _wire(wire: WireSettings, catalogue: Catalogue) -> WireSettings:
    """Return the wire with its item and breaking load."""
    if wire.item is not None:
        place = f"wires.{wire.id}.item"
        item = _named(catalogue.wire, wire.item, place)
        if abs(item.diameter_mm - wire.diameter_mm) > _SAME_DIAMETER_MM:
            msg = f"{wire.item!r} is {item.diameter_mm:g} mm thick; diameter_mm = {wire.diameter_mm:g}"
            raise SettingError(place, msg)
    else:
        same = [i for i in catalogue.wire if abs(i.diameter_mm - wire.diameter_mm) <= _SAME_DIAMETER_MM]
        if not same:
            return wire
        item = min(same, key=lambda i: (i.price is None, (i.price or 0.0) / i.length_m))
    return wire.model_copy(update={"item": item.id, "breaking_n": wire.breaking_n or item.breaking_n})


def cheapest_post(catalogue: Catalogue, kind: str, named: str | None, height_out_m: float) -> PostItem | None:
    """Return the post to buy for a height out of the ground; None where none is long enough."""
    ours = [item for item in catalogue.posts if item.kind == kind]
    if named is not None:
        ours = [_named(ours, named, f"posts.{kind}_item")]
    tall = [item for item in ours if item.length_m - item.depth_m >= height_out_m - _SAME_HEIGHT_M]
    return min(tall, key=lambda item: (item.price is None, item.price or 0.0), default=None)


def _named(items: Iterable[_Item], name: str, place: str) -> _Item:
    known = {item.id: item for item in items}
    if name not in known:
        msg = f"the catalogue has no {name!r}; it has {', '.join(known) or 'none'}"
        raise SettingError(place, msg)
    return known[name]
