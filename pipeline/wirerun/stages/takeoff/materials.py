"""What to buy in all, and what to take to every work zone.

Every use of an item is one line of a long table (row, kind, item, how many, what for), counted in pieces, wire in
millimetres. Orders and zones are sums of that table, so that one cannot disagree with the other.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from wirerun.findings import Finding, name_some
from wirerun.rounding import rounded
from wirerun.rules.ordering import SUPPLIES, money, packs_for
from wirerun.rules.wire_work import cheapest_end
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import SEASON_TASKS, tools_of
from wirerun.settings.catalogue_row import DEMO, SoldItem
from wirerun.settings.fixing_item import FixingItem
from wirerun.tables import MATERIALS, ZONE_MATERIALS, conform, empty
from wirerun.wording import many

# The same thing may be bought for several of these: a staple is a staple, at the wire's end too.
_MERGED: Final = ("clip", "staple", "fastener", "wire end")
_ENDS_OF_A_LINE: Final = 2
# Far below a piece or a millimetre, far above the rounding of a sum.
_ROUNDING: Final = 1e-6
_ITEM: Final = ["kind", "item"]
_USE: Final = ["row_id", "kind", "item", "quantity", "use", "wire_id"]


@dataclass(frozen=True, slots=True)
class Planned:
    """The tables that say what is used; `rows` has zone_id, `coils` need not."""

    rows: pd.DataFrame
    posts: pd.DataFrame
    clips: pd.DataFrame
    wires: pd.DataFrame
    adjusters: pd.DataFrame
    coils: pd.DataFrame


def list_materials(
    planned: Planned, config: Config, catalogue: Catalogue, not_included: str = ""
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    """Order list, list for every work zone, and what to say of them.

    Posts and clips without an item are not listed. Wire that the catalogue does not have is listed by length. A wire
    whose length is not known has no ends either. An end that carries an adjuster needs no tie-off. Of several items for
    a wire's ends or joins the one that is cheapest for an end is taken.

    Spares are whole pieces, at least the percentage of the kind. Spare coils of wire are those that are missing when
    the usable remainders are laid to the percentage of the length.

    Of each tool that an item or a task needs, and of those that always go along, one is listed, or one for each person
    where the catalogue says so, in all and for every zone where it is needed; the catalogue's words are parted at
    commas and "and".

    An item that serves as clip, staple, fastener or wire end at once is one line, under the first of these kinds; where
    the catalogue names several prices for it, the highest is taken, with its pack, and price_source says so.

    What is sold in packs only is ordered in whole ones: the total is theirs.

    Parameters
    ----------
    planned : Planned
        Tables of the whole plan.
    config : Config
        Diameters of wires that the catalogue does not have.
    catalogue : Catalogue
        Fasteners, wire ends, tools, spares, prices.
    not_included : str
        Rows that could not be planned, in words.

    Returns
    -------
    materials : DataFrame
        `tables.MATERIALS`.
    zone_materials : DataFrame
        `tables.ZONE_MATERIALS`; its sum over the zones is quantity, of wire length_m.
    findings : list of Finding
        Items without price; items invented for the demo; ends or joins that the catalogue has nothing for.
    """
    uses, lacking = _all_uses(planned, config, catalogue)
    if uses.empty:
        return empty(MATERIALS), empty(ZONE_MATERIALS), lacking
    offers = _offers(catalogue, uses)
    tools = _tools(uses, offers, _tasks(planned, catalogue))
    offers = _offers(catalogue, pd.concat([uses, tools]))
    uses["kind"] = _one_kind(uses)
    uses = pd.concat([uses[uses["quantity"] > 0], tools], ignore_index=True)
    uses["zone_id"] = uses["row_id"].map(planned.rows.set_index("row_id")["zone_id"])

    # A use without a zone must not get lost: the table refuses it.
    by_zone = uses.groupby(["zone_id", *_ITEM], as_index=False, dropna=False)["quantity"].sum()
    by_item = uses.groupby(_ITEM)["quantity"].sum().reset_index()
    taken = {tool.id: config.work.people if tool.per == "person" else 1 for tool in catalogue.tools}
    for frame in (by_zone, by_item):
        is_tool = frame["kind"] == "tool"
        frame.loc[is_tool, "quantity"] = frame.loc[is_tool, "item"].map(taken).fillna(1).astype("int64")
    materials = _priced(_ordered(by_item, planned.coils, catalogue), offers)
    materials = materials.merge(_used_for(uses), on=_ITEM).assign(not_included=not_included or None)
    is_wire = by_zone["kind"] == "wire"
    zones = by_zone.assign(
        quantity=np.where(is_wire, by_zone["quantity"] / 1000.0, by_zone["quantity"]),
        unit=np.where(is_wire, "m", "piece"),
    )
    findings = [*lacking, *_unpriced(materials, catalogue), *_invented(offers, catalogue)]
    return conform(MATERIALS, materials), conform(ZONE_MATERIALS, zones), findings


def _all_uses(planned: Planned, config: Config, catalogue: Catalogue) -> tuple[pd.DataFrame, list[Finding]]:
    """Every use but tools: row_id, kind, item, quantity, use, wire_id (empty where it is of no wire)."""
    ends, findings = _wire_ends(planned, catalogue)
    posts = planned.posts[planned.posts["post_item"].notna()]
    gear = planned.adjusters[planned.adjusters["kind"].notna()]
    braced = planned.posts[planned.posts["end_item"].notna()]
    parts = [
        _use(posts, "post", posts["post_item"], 1, "as " + posts["kind"] + " post"),
        *_wire(planned, config),
        *_fixings(planned.clips, catalogue),
        *ends,
        _use(gear, "adjuster", gear["kind"], 1, ""),
        _use(braced, "end assembly", braced["end_item"], 1, "to hold end posts"),
    ]
    return pd.concat([part for part in parts if len(part)] or [pd.DataFrame(columns=_USE)], ignore_index=True), findings


def _use(
    frame: pd.DataFrame, kind: pd.Series | str, item: pd.Series | str, quantity: pd.Series | int, use: pd.Series | str
) -> pd.DataFrame:
    made = pd.DataFrame({"row_id": frame["row_id"], "wire_id": frame.get("wire_id")}, index=frame.index)
    made = made.assign(kind=kind, item=item, quantity=quantity, use=use)
    return made.astype({"quantity": "int64"})


def _wire(planned: Planned, config: Config) -> list[pd.DataFrame]:
    """Wire in millimetres, as it is cut from the coils; else by the run."""
    coils = planned.coils
    cut = _use(coils, "wire", coils["wire_item"], np.rint(1000.0 * (coils["to_m"] - coils["from_m"])), "")
    other = planned.wires[planned.wires["cut_m_per_line"].notna() & planned.wires["wire_item"].isna()]
    block = other["row_id"].map(planned.rows.set_index("row_id")["block_id"])
    diameter = {(b, w.id): w.diameter_mm for b in block.unique() for w in config.for_block(b).wires}
    names = [f"{diameter[key]:g} mm wire, not in the catalogue" for key in zip(block, other["wire_id"], strict=True)]
    run_mm = np.ceil(1000.0 * (other["cut_m_per_line"] + other["tails_m_per_line"]) - _ROUNDING)
    return [cut, _use(other, "wire", pd.Series(names, index=other.index, dtype="str"), other["lines"] * run_mm, "")]


def _fixings(clips: pd.DataFrame, catalogue: Catalogue) -> list[pd.DataFrame]:
    """Clips and staples, and what fixes them."""
    held = clips[clips["fixing"].notna() & (clips["pieces"] > 0)]
    item = {fixing.id: fixing for fixing in catalogue.fixings}
    kind = held["fixing"].map({name: _kind_of(fixing) for name, fixing in item.items()})
    bought = held["fixing"].map({name: fixing.bought_as for name, fixing in item.items()})
    turned = held["fixing"].map({name: ", upside down" * bool(fixing.sold_as) for name, fixing in item.items()})
    use = held["clip"] + (" " + held["seat"]).fillna("") + turned
    fastener = held["fixing"].map({name: fixing.fastener for name, fixing in item.items()})
    each = held["fixing"].map({name: fixing.fasteners for name, fixing in item.items()})
    fixed = (fastener != "") & (each > 0)
    return [
        _use(held, kind, bought, held["pieces"], use),
        _use(held[fixed], "fastener", fastener[fixed], (held["pieces"] * each)[fixed], "for " + bought[fixed]),
    ]


def _kind_of(fixing: FixingItem) -> str:
    return "staple" if fixing.kind.endswith("staple") else "clip"


def _wire_ends(planned: Planned, catalogue: Catalogue) -> tuple[list[pd.DataFrame], list[Finding]]:
    """End staples, tie-offs, joins and hooks for ends that move, each the cheapest of the catalogue."""
    wires = planned.wires[planned.wires["cut_m_per_line"].notna()]
    line = ["row_id", "wire_id"]
    fitted = planned.adjusters[planned.adjusters["kind"].notna()].groupby(line).size().rename("adjusters")
    joined = planned.coils[planned.coils["joined"] == "yes"]
    joins = joined.groupby([*line, "line"]).size().sub(1).groupby(line).sum().rename("joins")
    wires = wires[[*line, "lines", "ends_move"]].join(fitted, on=line).join(joins, on=line)
    wires = wires.fillna({"adjusters": 0, "joins": 0})
    ends = _ENDS_OF_A_LINE * wires["lines"]
    counts = {
        "end staple": ends,
        "tie-off": ends - wires["adjusters"],
        "join": wires["joins"],
        "end hook": ends.where(wires["ends_move"] == "yes", 0),
    }
    parts, findings = [], []
    for use, each in counts.items():
        needed = each > 0
        if not needed.any():
            continue
        item = cheapest_end(catalogue.wire_ends, use)
        if item is None:
            sentence = f"The catalogue has no {use} for {many(each.sum(), 'place')}; none is in the materials."
            findings.append(Finding("not-in-catalogue", use, sentence))
            continue
        parts.append(_use(wires[needed], "wire end", item.id, item.pieces * each[needed], f"for {use}"))
    return parts, findings


def _offers(catalogue: Catalogue, uses: pd.DataFrame) -> pd.DataFrame:
    """Prices and tools of the catalogue for what is used: kind, item, price, pack, supplier, source, tool, invented."""
    used = set(uses[_ITEM].drop_duplicates().itertuples(index=False, name=None))
    sold = {fixing.id: fixing for fixing in catalogue.fixings}
    rows: list[tuple[str, str, float | None, int, str, SoldItem]] = [
        *(("post", post.id, post.price, post.pack, post.tool, post) for post in catalogue.posts),
        *(("wire", wire.id, wire.price, 1, "", wire) for wire in catalogue.wire),
        *(
            (_kind_of(fixing), fixing.bought_as, fixing.price, sold[fixing.bought_as].pack, fixing.tool, fixing)
            for fixing in catalogue.fixings
        ),
        *(
            ("fastener", fixing.fastener, fixing.fastener_price, fixing.fastener_pack, "", fixing)
            for fixing in catalogue.fixings
            if (_kind_of(fixing), fixing.bought_as) in used
        ),
        *(("wire end", end.id, end.price, end.pack, end.tool, end) for end in catalogue.wire_ends),
        *(("end assembly", end.id, end.price, end.pack, end.tool, end) for end in catalogue.ends),
        *(("tool", tool.id, tool.price, 1, "", tool) for tool in catalogue.tools),
        *(("adjuster", gear.id, gear.price, gear.pack, gear.tool, gear) for gear in catalogue.adjusters),
    ]
    lines = [
        (
            *(kind, item, np.nan if price is None else rounded(price, 4), pack, row.supplier),
            *(f"{row.source}, {row.date}", tool, _is_demo(row)),
        )
        for kind, item, price, pack, tool, row in rows
        if (kind, item) in used
    ]
    return pd.DataFrame(lines, columns=[*_ITEM, "price", "pack", "supplier", "source", "tool", "invented"]).astype(
        {"price": "float64", "pack": "int64", "invented": "bool"}
    )


def _is_demo(row: SoldItem) -> bool:
    return DEMO in row.source


def _tasks(planned: Planned, catalogue: Catalogue) -> pd.DataFrame:
    """Tools of the tasks that the catalogue has minutes for: row_id, use, tool."""
    strung = planned.wires.loc[planned.wires["cut_m_per_line"].notna(), "row_id"].unique()
    joined = planned.coils.loc[planned.coils["joined"] == "yes", "row_id"].unique()
    parts = [
        pd.DataFrame({"row_id": joined if rate.id == "join" else strung, "use": rate.id, "tool": rate.tool})
        for rate in catalogue.rates
        if rate.id not in SEASON_TASKS
    ]
    rows = planned.rows["row_id"]
    parts += [pd.DataFrame({"row_id": rows, "use": "every task", "tool": t.id}) for t in catalogue.tools if t.always]
    return pd.concat(parts) if parts else pd.DataFrame(columns=["row_id", "use", "tool"])


def _tools(uses: pd.DataFrame, offers: pd.DataFrame, tasks: pd.DataFrame) -> pd.DataFrame:
    """One use of every tool for every row and what needs it."""
    of_items = uses[["row_id", *_ITEM]].drop_duplicates().merge(offers[[*_ITEM, "tool"]], on=_ITEM)
    needed = pd.concat([of_items.rename(columns={"item": "use"}).drop(columns="kind"), tasks], ignore_index=True)
    needed = needed.assign(item=needed["tool"].map(tools_of)).explode("item")
    needed = needed[needed["item"].notna()].drop_duplicates(["row_id", "item", "use"])
    return needed.assign(kind="tool", quantity=1, wire_id=None)[_USE]


def _one_kind(uses: pd.DataFrame) -> pd.Series:
    """Kind of each use, the first of the kinds under which its item is bought."""
    merged = uses["kind"].isin(_MERGED)
    rank = uses["kind"].map({kind: rank for rank, kind in enumerate(_MERGED)})
    first = rank.groupby(uses["item"]).transform("min")
    return uses["kind"].where(~merged, first.map(dict(enumerate(_MERGED))))


def _ordered(used: pd.DataFrame, coils: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Order list without prices: quantity, spare_quantity, unit, length_m, mass_kg."""
    percent = used["kind"].map({spare.id: spare.percent for spare in catalogue.spares}).fillna(0.0)
    spare = used["quantity"] * percent / 100.0
    is_wire = (used["kind"] == "wire").to_numpy()
    item = used["item"].where(is_wire)
    whole = coils.drop_duplicates("coil_id")
    kept = whole[whole["remainder_usable"] == "yes"].groupby("wire_item")["remainder_m"].sum()
    coil_m = item.map(whole.groupby("wire_item")["coil_m"].first())
    missing = (spare / 1000.0 - item.map(kept).fillna(0.0)).clip(lower=0.0) / coil_m
    spare = spare.where(~is_wire, missing.fillna(0.0))
    kg_per_m = item.map({wire.id: wire.coil_kg / wire.length_m for wire in catalogue.wire})
    length_m = (used["quantity"] / 1000.0).where(is_wire)
    pieces = used["quantity"].where(~is_wire, item.map(whole.groupby("wire_item").size()).fillna(0))
    return used.assign(
        quantity=pieces.astype("int64"),
        unit=np.where(is_wire, "coil", "piece"),
        spare_quantity=np.ceil(spare - _ROUNDING).astype("int64"),
        length_m=length_m,
        mass_kg=length_m * kg_per_m,
    )


def _priced(materials: pd.DataFrame, offers: pd.DataFrame) -> pd.DataFrame:
    """Order list with packs, unit_price, total, supplier and price_source; of several prices the highest."""
    dearest_last = offers.assign(kind=_one_kind(offers)).sort_values(
        ["price", "pack"], kind="stable", na_position="first"
    )
    offer = dearest_last.groupby(_ITEM).agg(
        lowest=("price", "min"),
        unit_price=("price", "max"),
        pack=("pack", "last"),
        named=("supplier", "last"),
        source=("source", "last"),
    )
    agreed = offer["lowest"] == offer["unit_price"]
    source = offer["source"].where(agreed, offer["source"] + "; the highest of several prices")
    offer["price_source"] = source.where(offer["unit_price"].notna())
    materials = materials.join(offer[["unit_price", "price_source", "pack", "named"]], on=_ITEM)
    pack = materials["pack"].fillna(1).astype("int64")
    packs = packs_for(
        np.asarray(materials["quantity"] + materials["spare_quantity"], dtype=np.int64),
        np.asarray(pack, dtype=np.int64),
    )
    return materials.assign(
        pack=pack,
        packs=packs,
        total=money(packs * pack.to_numpy(), materials["unit_price"].to_numpy()),
        supplier=materials["named"].where(materials["named"].fillna("") != "", materials["kind"].map(SUPPLIES)),
    )


def _used_for(uses: pd.DataFrame) -> pd.DataFrame:
    """What each item is for, in words: "230 two-way over; 412 two-way under; wires lower, upper"."""
    counted = uses[uses["use"] != ""].groupby([*_ITEM, "use"], as_index=False)["quantity"].sum()
    words = counted["use"].where(counted["kind"] == "tool", counted["quantity"].astype("str") + " " + counted["use"])
    uses_of = counted.assign(words=words).groupby(_ITEM)["words"].agg("; ".join)
    on_wire = uses[uses["wire_id"].notna()][[*_ITEM, "wire_id"]].drop_duplicates().sort_values("wire_id")
    wires_of = "wires " + on_wire.groupby(_ITEM)["wire_id"].agg(", ".join)
    both = pd.concat([uses_of.rename("uses"), wires_of.rename("wires")], axis=1)
    text: pd.Series = both["uses"].str.cat(both["wires"], sep="; ").fillna(both["uses"]).fillna(both["wires"])
    return text.rename("used_for").reset_index()


def _named(items: pd.Series) -> str:
    """Return some names in quotes, since names have commas."""
    return name_some(f'"{item}"' for item in items)


def _unpriced(materials: pd.DataFrame, catalogue: Catalogue) -> list[Finding]:
    lost = materials[materials["unit_price"].isna() & (materials["kind"] != "tool")]
    if lost.empty:
        return []
    sentence = f"{many(len(lost), 'item', 'have')} no price; costs leave them out: {_named(lost['item'])}."
    return [Finding("no-price", catalogue.folder or "catalogue", sentence)]


def _invented(offers: pd.DataFrame, catalogue: Catalogue) -> list[Finding]:
    names = offers.loc[offers["invented"], "item"].drop_duplicates()
    if names.empty:
        return []
    sentence = (
        f"Prices, forces and minutes of {many(len(names), 'item', 'are')} invented for the demo; put in your own "
        f"before buying or building: {_named(names)}."
    )
    return [Finding("demo-prices", catalogue.folder or "catalogue", sentence)]
