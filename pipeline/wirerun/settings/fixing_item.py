"""What holds a wire on a post, as the catalogue has it; the longest of its files, and the one with most rules."""

import re
from typing import Final, Literal

from pydantic import Field, ValidationInfo, field_validator

from wirerun.settings.catalogue_row import ItemId, Minutes, PackedItem, Price, one_of

_PULL: Final = re.compile(r"\d{1,4}(\.\d{1,3})?")
#: Fewest clips whose test says anything. Choice.
LEAST_TESTS: Final = 5
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
            one_of(holds, ("both",), f"a {kind}")
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
            one_of(value, posts if info.field_name == "fixes_to" else fasteners, f"a {kind}")
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
            one_of(value, shanks if info.field_name == "shank" else ways, of)
        return value

    @field_validator("also_driven")
    @classmethod
    def _goes_with_the_fastener_too(cls, value: str | None, info: ValidationInfo) -> str | None:
        fastener = info.data.get("fastener_kind")
        if value is not None and fastener is not None:
            one_of(value, _FASTENER[fastener][1], f"the fastener {fastener}")
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
