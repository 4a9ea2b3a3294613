"""The catalogue: what can be bought, what it holds, costs and takes to fix; each row with its source and date.

One CSV file per kind, one class per file, one field per column. Prices are in the config's currency; an empty price
means: not priced. A rule between columns is checked where the later of them stands, as far as the earlier are good.
"""

import math
import re
from dataclasses import dataclass, field
from typing import Final, Literal

from pydantic import Field, ValidationInfo, field_validator

from wirerun.settings.catalogue_row import CatalogueRow, ItemId, Minutes, PackedItem, Price, SoldItem, one_of
from wirerun.settings.fixing_item import FixingItem

_STEEL_KG_M3: Final = 7850.0  # EN 1991-1-1 table A.4: 77.0 to 78.5 kN/m3
# Steel wire breaks at some 400 N/mm2 (plain wire of trellises: Selecting zinc coated steel fencing, South Africa, table
# 1) to 1890 N/mm2 (EN 10270-1, class SM of 2.5 mm, quoted by a spring maker); wider here (choice), to catch a load in
# kilograms, pounds or kilonewtons and no more.
_LEAST_N_MM2, _MOST_N_MM2 = 250.0, 2500.0
# A label counts rounded and coated wire. Choice.
_COIL_OFF: Final = 0.1
_BETWEEN_TOOLS: Final = re.compile(r"[,;]|\band\b")


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
        "look",
        "come back",
    ] = Field(
        description="The task; or a change from one kind of clip to another, which decides what sections take in; or a "
        "look at a post on site, and coming back to one later, which decide at which posts to look."
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
            one_of(per, SEASON_TASKS[task], f"the task {task}")
        elif task is not None and per == "adjuster":
            one_of(per, ("post", "wire end", "coil", "100 m of wire", "line", "join", "row"), f"the task {task}")
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


def _kg_per_m(diameter_mm: float) -> float:
    return _STEEL_KG_M3 * math.pi * (diameter_mm / 1000.0) ** 2 / 4.0


def tools_of(*cells: str) -> list[str]:
    """Tools that cells of the catalogue name, parted by commas, semicolons or "and": each once, in order."""
    named = (tool.strip() for cell in cells for tool in _BETWEEN_TOOLS.split(cell))
    return list(dict.fromkeys(tool for tool in named if tool))
