"""The catalogue: what can be bought, what it holds, costs and takes to fix; each row with its source and date.

One CSV file per kind, one class per file, one field per column. Prices are in the config's currency; an empty price
means: not priced. A rule between columns is checked where the later of them stands, as far as the earlier are good.
"""

import datetime as dt
import math
import re
from dataclasses import dataclass, field
from typing import Annotated, Final, Literal

from pydantic import Field, ValidationInfo, field_validator

from wirerun.settings.section import TextRow

ItemId = Annotated[str, Field(min_length=1, max_length=60, description="Name of the item, used once in the file.")]
Price = Annotated[float, Field(ge=0.0, le=1e6)]
Minutes = Annotated[float, Field(ge=0.0, le=10_000.0)]

_STEEL_KG_M3: Final = 7850.0  # EN 1991-1-1 table A.4 (from memory)
# Steel wire breaks at some 350 N/mm2 (soft) to 2000 N/mm2 (spring wire), from memory; wider here (choice), to catch
# a load in kilograms, pounds or kilonewtons and no more.
_LEAST_N_MM2, _MOST_N_MM2 = 250.0, 2500.0
# A label counts rounded and coated wire. Choice.
_COIL_OFF: Final = 0.1
_BETWEEN_TOOLS: Final = re.compile(r"[,;]|\band\b")
_PULL: Final = re.compile(r"\d{1,4}(\.\d{1,3})?")
#: Fewest clips whose test says anything. Choice.
LEAST_TESTS: Final = 5
DEMO: Final = "invented for the demo"


class CatalogueRow(TextRow):
    """What every row of the catalogue has: where it comes from."""

    source: str = Field(min_length=3, max_length=300, description="Where the row comes from.")
    date: dt.date = Field(
        ge=dt.date(1900, 1, 1), lt=dt.date(2200, 1, 1), description="Day the row was read or offered, YYYY-MM-DD."
    )


class SoldItem(CatalogueRow):
    """What is bought of somebody."""

    supplier: str = Field(
        "", max_length=60, description="Who sells it, or what it is ordered with. Empty: grouped by what it is."
    )


class PackedItem(SoldItem):
    """What is bought by the piece or by the pack."""

    pack: int = Field(1, ge=1, le=1_000_000, description="Pieces in a pack, where it is sold in whole packs only.")


class WireItem(SoldItem):
    """A wire, in coils."""

    id: ItemId
    diameter_mm: float = Field(ge=1.0, le=8.0, description="Diameter of the bare wire, in mm.")
    grade: str = Field(min_length=1, max_length=60, description="Grade and coating, in words.")
    breaking_n: float = Field(gt=0.0, le=100_000.0, description="Breaking load, in newtons.")
    coil_kg: float = Field(gt=0.0, le=2000.0, description="Mass of a coil, in kg.")
    coil_m: float | None = Field(None, gt=0.0, le=100_000.0, description="Length on its label; else from its mass.")
    price: Price | None = Field(None, description="Price of a coil.")

    @field_validator("breaking_n")
    @classmethod
    def _is_of_steel(cls, breaking_n: float, info: ValidationInfo) -> float:
        diameter = info.data.get("diameter_mm")
        if diameter is not None:
            least, most = (strength * math.pi * diameter**2 / 4.0 for strength in (_LEAST_N_MM2, _MOST_N_MM2))
            if not least <= breaking_n <= most:
                msg = (
                    f"{breaking_n:g} N is no breaking load of a steel wire of {diameter:g} mm; it lies between "
                    f"{least:.0f} and {most:.0f} N"
                )
                raise ValueError(msg)
        return breaking_n

    @field_validator("coil_m")
    @classmethod
    def _is_of_its_mass(cls, coil_m: float | None, info: ValidationInfo) -> float | None:
        diameter, mass = info.data.get("diameter_mm"), info.data.get("coil_kg")
        if coil_m is not None and diameter is not None and mass is not None:
            by_mass = mass / _kg_per_m(diameter)
            if abs(coil_m / by_mass - 1.0) > _COIL_OFF:
                msg = (
                    f"{coil_m:g} m is more than {_COIL_OFF:.0%} off the {by_mass:.0f} m that {mass:g} kg of wire of "
                    f"{diameter:g} mm make"
                )
                raise ValueError(msg)
        return coil_m

    @property
    def kg_per_m(self) -> float:
        """Return the mass of a metre of round steel wire [kg/m]."""
        return _kg_per_m(self.diameter_mm)

    @property
    def length_m(self) -> float:
        """Return the length of wire on a coil [m]: what its label says, else what its mass makes."""
        return self.coil_m or self.coil_kg / self.kg_per_m


#: For each kind of fixing: what it fixes to, and what holds it there. A hook is bent out of a steel post, or pushed
#: into a hole of it.
_KIND: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "screw-fixed clip": (("timber", "steel"), ("screw",)),
    "staple-fixed clip": (("timber",), ("staple", "nail")),
    "formed staple": (("timber",), ("staple",)),
    "plain staple": (("timber",), ("staple",)),
    "hook": (("steel",), ("none",)),
}
#: For each kind of fastener: its shank, and how it is driven.
_FASTENER: Final[dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "screw": (("threaded",), ("screwdriver",)),
    "staple": (("smooth", "ringed"), ("hand", "air")),
    "nail": (("smooth", "ringed"), ("hand", "air")),
    "none": (("none",), ("none",)),
}
#: What is itself the fastener: driven over the wire, it holds both ways.
_STAPLES: Final = ("formed staple", "plain staple")


def shut_out(wanted: Literal["hand", "air", "any"]) -> str:
    """Return the way of driving that is not to be used."""
    return {"hand": "air", "air": "hand", "any": ""}[wanted]


class FixingItem(PackedItem):
    """What holds a wire on a post, and the screw, staple or nail that holds it."""

    id: ItemId
    kind: Literal["screw-fixed clip", "staple-fixed clip", "formed staple", "plain staple", "hook"] = Field(
        description="Kind of fixing; a hook needs no fastener: it is bent out of a steel post or pushed into it."
    )
    holds: Literal["down", "up", "both"] = Field(description="Ways in which it holds the wire.")
    lets_go_n: float = Field(gt=0.0, le=100_000.0, description="Pull at which it lets the wire go, in newtons.")
    fixes_to: Literal["timber", "steel"] = Field(description="Post it fixes to.")
    fastener: str = Field("", max_length=60, description="Screw or staple bought with it; empty: none, or itself one.")
    fasteners: int = Field(1, ge=0, le=8, description="Fasteners for each piece.")
    fastener_kind: Literal["screw", "staple", "nail", "none"] = Field(description="Kind of fastener.")
    shank: Literal["smooth", "ringed", "threaded", "none"] = Field(description="Its shank or legs.")
    fastener_diameter_mm: float = Field(0.0, ge=0.0, le=12.0, description="Diameter of the shank, or of one leg.")
    fastener_length_mm: float = Field(0.0, ge=0.0, le=200.0, description="Length that is in the post.")
    driven: Literal["hand", "air", "screwdriver", "none"] = Field(description="How it is driven.")
    net_safe: bool = Field(description="Whether nets slide over it without snagging.")
    tool: str = Field("", max_length=80, description="Tool needed.")
    drive_to: str = Field("", max_length=200, description="How far to drive it, for the field sheet.")
    minutes: Minutes = Field(description="Minutes of one person for each piece.")
    also_driven: Literal["hand", "air", "screwdriver"] | None = Field(
        None, description="Another way in which it can be driven, with its own tool and minutes."
    )
    also_tool: str = Field("", max_length=80, description="Tool needed for that.")
    also_minutes: Minutes | None = Field(None, description="Minutes of one person for each piece, that way.")
    sold_as: str = Field(
        "", max_length=60, description="Item to buy for it where that is another row's, mounted the other way up."
    )
    movable: bool | None = Field(
        None, description="Whether the wire is taken out and put in by hand. Empty: clips and hooks yes, staples no."
    )
    harvester_safe: bool | None = Field(None, description="Whether a harvester's shaking leaves it where it is.")
    removal_minutes: Minutes | None = Field(None, description="Minutes of one person to take a piece off the post.")
    life_years: float | None = Field(None, gt=0.0, le=100.0, description="Years that it lasts.")
    skill: str = Field("", max_length=40, description="What the person must know, in a word or two.")
    hold_down_n: float | None = Field(
        None, ge=0.0, le=1000.0, description="Upward pull that a one-way clip still holds, in newtons."
    )
    hold_down_tests_n: str = Field(
        "",
        max_length=400,
        description="Upward pulls at which clips that were tried let their wire go, in newtons, parted by spaces.",
    )
    price: Price | None = Field(None, description="Price of a piece.")
    fastener_price: Price | None = Field(None, description="Price of one of the fasteners bought with it.")
    fastener_pack: int = Field(1, ge=1, le=1_000_000, description="Pieces in a pack of those fasteners.")

    @property
    def is_staple(self) -> bool:
        """Return whether the wire runs through it, held both ways, rather than sitting in a clip or hook."""
        return self.kind in _STAPLES

    @property
    def tested_n(self) -> tuple[float, ...]:
        """Return the pulls at which clips that were tried let their wire go [N]."""
        return tuple(float(pull) for pull in self.hold_down_tests_n.split())

    @property
    def lets_move(self) -> bool:
        """Return whether a wire that is moved can be held by it."""
        return not self.is_staple if self.movable is None else self.movable

    @property
    def bought_as(self) -> str:
        """Return the item to buy."""
        return self.sold_as or self.id

    def driven_as(self, wanted: Literal["hand", "air", "any"]) -> "FixingItem":
        """Return the fixing with the way in which it is driven: of those that are wanted the quickest."""
        barred = shut_out(wanted)
        if self.also_driven is None or self.also_minutes is None or self.also_driven == barred:
            return self
        if self.driven != barred and self.minutes <= self.also_minutes:
            return self
        other = {"driven": self.also_driven, "tool": self.also_tool, "minutes": self.also_minutes}
        return self.model_copy(update=other | {"also_driven": None, "also_tool": "", "also_minutes": None})

    @field_validator("holds")
    @classmethod
    def _staples_hold_both_ways(cls, holds: str, info: ValidationInfo) -> str:
        kind = info.data.get("kind")
        if kind in _STAPLES:
            _one_of(holds, ("both",), f"a {kind}")
        return holds

    @field_validator("hold_down_n", "hold_down_tests_n")
    @classmethod
    def _is_of_one_way(cls, value: float | str | None, info: ValidationInfo) -> float | str | None:
        holds = info.data.get("holds")
        if value not in (None, "") and holds not in (None, "down"):
            msg = f'it is for one-way clips, which hold "down"; this one holds "{holds}"'
            raise ValueError(msg)
        return value

    @field_validator("hold_down_tests_n")
    @classmethod
    def _are_pulls(cls, tests: str) -> str:
        pulls = tests.split()
        for pull in pulls:
            if not _PULL.fullmatch(pull):
                msg = f'"{pull}" is no pull in newtons; wanted are numbers parted by spaces, such as 12 15 9.5'
                raise ValueError(msg)
        if pulls and len(pulls) < LEAST_TESTS:
            msg = f"{len(pulls)} pulls are too few; {LEAST_TESTS} or more are wanted, better ten"
            raise ValueError(msg)
        return tests

    @field_validator("fixes_to", "fastener_kind")
    @classmethod
    def _goes_with_the_kind(cls, value: str, info: ValidationInfo) -> str:
        kind = info.data.get("kind")
        if kind is not None:
            posts, fasteners = _KIND[kind]
            _one_of(value, posts if info.field_name == "fixes_to" else fasteners, f"a {kind}")
        return value

    @field_validator("fastener")
    @classmethod
    def _is_bought_with_it(cls, fastener: str, info: ValidationInfo) -> str:
        kind = info.data.get("kind")
        if fastener and kind in (*_STAPLES, "hook"):
            msg = f'"{fastener}" is bought with no {kind}; leave the cell empty'
            raise ValueError(msg)
        return fastener

    @field_validator("fasteners")
    @classmethod
    def _are_counted(cls, fasteners: int, info: ValidationInfo) -> int:
        kind = info.data.get("kind")
        if kind == "hook" and fasteners:
            msg = f"{fasteners} will not do; a hook has 0"
            raise ValueError(msg)
        if kind in _STAPLES and fasteners != 1:
            msg = f"{fasteners} will not do; a {kind} is its own fastener: 1"
            raise ValueError(msg)
        if kind is not None and kind != "hook" and not fasteners:
            msg = f"0 will not do; a {kind} has 1 or more"
            raise ValueError(msg)
        return fasteners

    @field_validator("shank", "driven")
    @classmethod
    def _goes_with_the_fastener(cls, value: str, info: ValidationInfo) -> str:
        fastener = info.data.get("fastener_kind")
        if fastener is not None:
            shanks, ways = _FASTENER[fastener]
            of = f"the fastener {fastener}" if fastener != "none" else "a fixing without a fastener"
            _one_of(value, shanks if info.field_name == "shank" else ways, of)
        return value

    @field_validator("also_driven")
    @classmethod
    def _goes_with_the_fastener_too(cls, value: str | None, info: ValidationInfo) -> str | None:
        fastener = info.data.get("fastener_kind")
        if value is not None and fastener is not None:
            _one_of(value, _FASTENER[fastener][1], f"the fastener {fastener}")
        return value

    @field_validator("also_minutes")
    @classmethod
    def _goes_with_another_way(cls, minutes: float | None, info: ValidationInfo) -> float | None:
        if "also_driven" in info.data and (minutes is None) != (info.data["also_driven"] is None):
            msg = "also_driven and also_minutes go together; only one of them is given"
            raise ValueError(msg)
        return minutes

    @field_validator("fastener_diameter_mm", "fastener_length_mm")
    @classmethod
    def _has_a_size(cls, size_mm: float, info: ValidationInfo) -> float:
        fastener = info.data.get("fastener_kind")
        if fastener not in (None, "none") and not size_mm:
            msg = f"missing; a {fastener} needs a size above 0"
            raise ValueError(msg)
        if fastener == "none" and size_mm:
            msg = f"{size_mm:g} will not do; a fixing without a fastener has 0, or an empty cell"
            raise ValueError(msg)
        return size_mm

    @field_validator("fastener_price")
    @classmethod
    def _is_for_what_is_bought(cls, price: float | None, info: ValidationInfo) -> float | None:
        if price is not None and info.data.get("fastener") == "":
            msg = f"{price:g} is a price without a fastener; name it in the column fastener, or leave the cell empty"
            raise ValueError(msg)
        return price


class AdjusterItem(PackedItem):
    """A kind of adjuster: a wrap-on tie has a range, a winding strainer a barrel too."""

    # As an adjuster of the config is called, since it becomes one.
    id: str = Field(
        pattern=r"^[A-Za-z0-9_][A-Za-z0-9_ -]{0,39}$", description="Name of the item, used once in the file."
    )
    least_mm: float = Field(0.0, ge=0.0, le=5000.0, description="Shortest length of wire it takes up, in mm.")
    most_mm: float = Field(gt=0.0, le=5000.0, description="Longest length it takes up, in mm.")
    barrel_mm: float | None = Field(None, ge=5.0, le=200.0, description="Diameter of a strainer's barrel, in mm.")
    tail_m: float = Field(ge=0.0, le=5.0, description="Wire it needs beyond the tie-off, in metres.")
    tool: str = Field("", max_length=80, description="Tool needed.")
    minutes: Minutes = Field(description="Minutes of one person to fix it.")
    price: Price | None = Field(None, description="Price of one.")

    @field_validator("most_mm")
    @classmethod
    def _is_more_than_the_least(cls, most_mm: float, info: ValidationInfo) -> float:
        least = info.data.get("least_mm")
        if least is not None and most_mm <= least:
            msg = f"{most_mm:g} mm will not do; it must be above least_mm = {least:g} mm"
            raise ValueError(msg)
        return most_mm


class PostItem(PackedItem):
    """A post."""

    id: ItemId
    kind: Literal["end", "intermediate"] = Field(description="Where in the row it stands.")
    material: Literal["timber", "steel"] = Field(description="What it is made of.")
    length_m: float = Field(gt=0.3, le=8.0, description="Whole length, in metres.")
    depth_m: float = Field(gt=0.0, le=3.0, description="Depth in the ground, in metres.")
    width_mm: float = Field(gt=0.0, le=500.0, description="Diameter or width, in mm.")
    specific_gravity: float | None = Field(None, gt=0.1, lt=1.3, description="Of the timber, oven-dry.")
    pull_out_n: float = Field(gt=0.0, le=100_000.0, description="Pull at which it comes out of the ground.")
    minutes: Minutes = Field(description="Minutes of one person to set it.")
    tool: str = Field("", max_length=80, description="Tool needed.")
    price: Price | None = Field(None, description="Price of one.")

    @field_validator("depth_m")
    @classmethod
    def _leaves_some_out(cls, depth_m: float, info: ValidationInfo) -> float:
        length = info.data.get("length_m")
        if length is not None and depth_m >= length:
            msg = f"{depth_m:g} m in the ground leave nothing of a post of {length:g} m; it must be below length_m"
            raise ValueError(msg)
        return depth_m

    @field_validator("specific_gravity")
    @classmethod
    def _is_of_timber(cls, gravity: float | None, info: ValidationInfo) -> float | None:
        material = info.data.get("material")
        if material == "timber" and gravity is None:
            msg = "missing; a timber post needs it, for what a screw or staple holds in it"
            raise ValueError(msg)
        if material == "steel" and gravity is not None:
            msg = f"{gravity:g} is for timber; leave the cell of a steel post empty"
            raise ValueError(msg)
        return gravity


class WireEndItem(PackedItem):
    """What a wire's end is fastened or joined with."""

    id: ItemId
    use: Literal["end staple", "tie-off", "join", "end hook"] = Field(description="What it is for.")
    pieces: int = Field(ge=0, le=10, description="Pieces for each wire's end, or each join.")
    tool: str = Field("", max_length=80, description="Tool needed.")
    price: Price | None = Field(None, description="Price of a piece.")
    overlap_mm: float | None = Field(
        None, ge=0.0, le=2000.0, description="Of a join: how far the two lengths lie past each other in it, in mm."
    )
    strength_share: float | None = Field(
        None, gt=0.0, le=1.0, description="Of a join: share of the wire's breaking load that it bears."
    )

    @field_validator("overlap_mm", "strength_share")
    @classmethod
    def _is_of_a_join(cls, value: float | None, info: ValidationInfo) -> float | None:
        use = info.data.get("use")
        if value is not None and use not in (None, "join"):
            msg = f'it is for joins; this one is for "{use}"'
            raise ValueError(msg)
        return value


class EndItem(PackedItem):
    """What holds an end post against the pull of its wires; picked by that pull and the row's length, not sized."""

    id: ItemId
    kind: Literal["single", "anchored", "braced"] = Field(
        description="A post alone, one tied back to an anchor, or two posts with a brace between them."
    )
    most_row_m: float | None = Field(None, gt=0.0, le=5000.0, description="Longest row it is for. Empty: any.")
    most_pull_n: float | None = Field(None, gt=0.0, le=1e6, description="Greatest pull it is for. Empty: any.")
    parts: str = Field("", max_length=200, description="What it is made of beside the end post, in words.")
    tool: str = Field("", max_length=80, description="Tools needed.")
    minutes: Minutes = Field(description="Minutes of one person to make it.")
    price: Price | None = Field(None, description="Price of its parts, the end post not counted.")


#: What a job costs beside materials and labour, in the order in which it is listed.
CHARGES: Final = ("setting out", "carting posts", "machine hire", "tool hire", "freight", "waste", "contingency")


class ChargeItem(CatalogueRow):
    """What the job costs beside materials and labour."""

    id: Literal["setting out", "carting posts", "machine hire", "tool hire", "freight", "waste", "contingency"] = Field(
        description="What it is for."
    )
    per: Literal["ha", "post", "m of row", "crew day", "% of materials", "% of all"] = Field(
        description="What the price is for, or of what it is a share."
    )
    price: Price | None = Field(None, description="Price for each, or percent.")


class ToolItem(SoldItem):
    """A tool that goes along whatever the task, or one of which every person needs one."""

    id: ItemId
    per: Literal["person", "crew"] = Field(description="Whether each person needs one, or the crew.")
    always: bool = Field(description="Whether it goes along to every zone.")
    price: Price | None = Field(None, description="Price of one.")


TASKS: Final = (
    *("set out and peg", "carry out posts", "end staples", "carry coils", "run out"),
    *("tie off", "tension", "join", "check"),
)
#: What is done with the foliage wires every year, and what its minutes may be for.
SEASON_TASKS: Final[dict[str, tuple[str, ...]]] = {
    "lift": ("100 m of wire", "line"),
    "let down": ("100 m of wire", "line"),
    "let out adjusters": ("adjuster",),
}


class RateItem(CatalogueRow):
    """Minutes of one person for a task that is not a piece of the other files."""

    id: Literal[
        "set out and peg",
        "carry out posts",
        "end staples",
        "carry coils",
        "run out",
        "tie off",
        "tension",
        "join",
        "check",
        "lift",
        "let down",
        "let out adjusters",
        "change kind",
    ] = Field(
        description="The task; or a change from one kind of clip to another, which decides what sections take in."
    )
    per: Literal["post", "wire end", "coil", "100 m of wire", "line", "join", "row", "adjuster", "change"] = Field(
        description="What the minutes are for."
    )
    minutes: Minutes = Field(description="Minutes of one person.")
    people: int = Field(1, ge=1, le=20, description="People it needs at once.")
    tool: str = Field("", max_length=80, description="Tools needed.")

    @field_validator("per")
    @classmethod
    def _goes_with_the_task(cls, per: str, info: ValidationInfo) -> str:
        task = info.data.get("id")
        if task in SEASON_TASKS:
            _one_of(per, SEASON_TASKS[task], f"the task {task}")
        elif task is not None and per == "adjuster":
            _one_of(per, ("post", "wire end", "coil", "100 m of wire", "line", "join", "row"), f"the task {task}")
        return per


class SpareItem(CatalogueRow):
    """How much more of a kind to order."""

    id: Literal["post", "wire", "clip", "staple", "fastener", "wire end", "adjuster", "end assembly"] = Field(
        description="Kind of material."
    )
    percent: float = Field(ge=0.0, le=100.0, description="How much more of it to order, in percent.")


@dataclass(frozen=True, slots=True)
class Catalogue:
    """All rows, in file order, one tuple per file; `folder` as a person would write it."""

    wire: tuple[WireItem, ...] = ()
    fixings: tuple[FixingItem, ...] = ()
    adjusters: tuple[AdjusterItem, ...] = ()
    posts: tuple[PostItem, ...] = ()
    wire_ends: tuple[WireEndItem, ...] = ()
    rates: tuple[RateItem, ...] = ()
    spares: tuple[SpareItem, ...] = ()
    ends: tuple[EndItem, ...] = ()
    charges: tuple[ChargeItem, ...] = ()
    tools: tuple[ToolItem, ...] = ()
    folder: str = field(default="", compare=False)


#: The files of a catalogue: field of `Catalogue`, which is also the file's stem, and the class of its rows.
FILES: Final[dict[str, type[CatalogueRow]]] = {
    "wire": WireItem,
    "fixings": FixingItem,
    "adjusters": AdjusterItem,
    "posts": PostItem,
    "wire_ends": WireEndItem,
    "rates": RateItem,
    "spares": SpareItem,
    "ends": EndItem,
    "charges": ChargeItem,
    "tools": ToolItem,
}
#: Those that a catalogue may do without.
MAY_LACK: Final = ("ends", "charges", "tools")


def _one_of(value: str, allowed: tuple[str, ...], of: str) -> None:
    """Refuse a value that does not go with what another column says."""
    if value not in allowed:
        msg = f'"{value}" does not go with {of}; allowed: {", ".join(allowed)}'
        raise ValueError(msg)


def _kg_per_m(diameter_mm: float) -> float:
    return _STEEL_KG_M3 * math.pi * (diameter_mm / 1000.0) ** 2 / 4.0


def tools_of(*cells: str) -> list[str]:
    """Tools that cells of the catalogue name, parted by commas, semicolons or "and": each once, in order."""
    named = (tool.strip() for cell in cells for tool in _BETWEEN_TOOLS.split(cell))
    return list(dict.fromkeys(tool for tool in named if tool))
