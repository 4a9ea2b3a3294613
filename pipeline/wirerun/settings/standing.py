"""Settings of what stands already and of what lies in the store: neither is ordered again."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator, Discriminator, Field, Tag

from wirerun.settings.section import ONE, SEVERAL, WHETHER, LocalPath, Section

_Name = Annotated[str, Field(min_length=1, max_length=200)]
_Names = Annotated[tuple[_Name, ...], Field(max_length=20_000, strict=False)]


def _told_apart(condition: str) -> str:
    name, sign, value = condition.partition("=")
    if not sign or not name.strip() or not value.strip():
        msg = f'"{condition}" will not do; wanted are true, false, "attribute=value" or a list of posts'
        raise ValueError(msg)
    return condition


def _one_is_a_list(names: object) -> object:
    """Take one name for a list of it; refuse what names no wire."""
    if not isinstance(names, bool | str | list | tuple):
        msg = f"{names} will not do; wanted is a list of wires by their ids"
        raise ValueError(msg)  # noqa: TRY004 - what pydantic tells a person
    return (names,) if isinstance(names, str) else names


def _sort_told(posts: object) -> object:
    """Refuse what is none of the ways to name posts."""
    if not isinstance(posts, bool | str | list | tuple):
        msg = f'{posts} will not do; wanted are true, false, "attribute=value" or a list of posts'
        raise ValueError(msg)  # noqa: TRY004 - what pydantic tells a person
    return posts


def _way(value: object) -> str:
    if isinstance(value, list | tuple):
        return SEVERAL
    return ONE if isinstance(value, str) else WHETHER


_Posts = Annotated[
    Annotated[bool, Tag(WHETHER)]
    | Annotated[str, Field(max_length=200), AfterValidator(_told_apart), Tag(ONE)]
    | Annotated[_Names, Tag(SEVERAL)],
    Discriminator(_way),
    BeforeValidator(_sort_told),
]
_Fixings = Annotated[
    Annotated[bool, Tag(WHETHER)] | Annotated[_Names, Tag(SEVERAL)],
    Discriminator(lambda value: SEVERAL if isinstance(value, list | tuple) else WHETHER),
    BeforeValidator(_one_is_a_list),
]


# What holds a wire where the config does not say, by its kind.
_HOLDER: Final = {"fixed": "staple", "foliage": "clip"}


class StandingSettings(Section):
    """What stands already: it is reckoned with, but not ordered, not priced, and in no task."""

    posts: _Posts = Field(
        default=False,
        description='Posts with their end assemblies: true for all; "attribute=value" for those surveyed posts '
        '(posts.points) whose column or attribute has that value, as in "state=stands"; or a list of surveyed posts by '
        "their names, without a survey of posts by their ids in the plan. Default: none stands.",
    )
    wires: Annotated[_Names, BeforeValidator(_one_is_a_list)] = Field(
        (),
        description="Wires that hang already, by their ids in [[wires]], with all that holds them on standing posts. "
        "Default: none.",
    )
    fixings: _Fixings = Field(
        (),
        description="Wires that are yet to be strung, but whose fixings are on the standing posts already, by their "
        "ids; true for all wires. Default: none.",
    )
    fixing_heights_m: Annotated[tuple[float, ...], Field(max_length=24, strict=False)] = Field(
        (),
        description="Heights above ground of the fixings that are on the standing posts, in metres; what a wire needs "
        "elsewhere is new. Default: where the wires need them.",
    )
    adjusters: bool = Field(
        default=False,
        description="Whether the adjusters that the plan asks for are there. Default: choice (most trellises have "
        "none).",
    )
    off_line_m: float = Field(
        0.15,
        gt=0.0,
        le=5.0,
        description="How far a standing post may be off the line of its neighbours before it is reported, in metres. "
        "Default: choice (one sees it along the row; a wire of 1000 N in spans of 6 m then pulls 50 N to the side).",
    )

    @property
    def any_posts(self) -> bool:
        """Return whether any post may stand."""
        return bool(self.posts)

    def has_fixings_of(self, wire_id: str) -> bool:
        """Return whether what holds a wire is on the standing posts."""
        named = self.fixings if isinstance(self.fixings, tuple) else ()
        return self.fixings is True or wire_id in self.wires or wire_id in named

    @property
    def condition(self) -> tuple[str, str] | None:
        """Return attribute and value of the surveyed posts that stand, where they are told so."""
        if not isinstance(self.posts, str):
            return None
        name, _, value = self.posts.partition("=")
        return name.strip(), value.strip()


class StockSettings(Section):
    """What lies in the store."""

    file: LocalPath | None = Field(
        None,
        description="CSV with the columns item, quantity and left_m: pieces and whole coils by their names in the "
        "catalogue, and part coils with the metres left on each. Its items are used before any is ordered, part coils "
        "are cut first. A plan writes what is left over as schedule/stock_left.csv, in the same form. Default: none.",
    )


def standing_rules(
    standing: Mapping[str, Any], posts: Mapping[str, Any], wires: Sequence[Mapping[str, Any]], level_m: object
) -> Iterator[tuple[str, str]]:
    """Go through the rules between [standing] and the rest that are broken: place and sentence."""
    known = [wire["id"] for wire in wires if isinstance(wire.get("id"), str)]
    stands = bool(standing["posts"])
    for key in ("wires", "fixings"):
        named = _some(standing[key])
        for name in dict.fromkeys(named):
            if known and name not in known:
                yield f"standing.{key}", f'there is no wire "{name}"; the config has {", ".join(known)}'
        if (named or standing[key] is True) and not stands:
            yield f"standing.{key}", "no post stands to hold them; set standing.posts too"
    if isinstance(standing["posts"], str) and posts["placing"] != "given":
        yield "standing.posts", 'an attribute is one of surveyed posts; set posts.placing = "given" and posts.points'
    heights = standing["fixing_heights_m"]
    if isinstance(heights, list | tuple) and heights and not (standing["wires"] or standing["fixings"]):
        yield "standing.fixing_heights_m", "no fixing stands; name its wires in standing.fixings"
    there = {*_some(standing["wires"]), *_some(standing["fixings"])}
    clipped = [wire for wire in wires if wire.get("held_by", _HOLDER.get(str(wire.get("kind")))) == "clip"]
    if level_m and any(standing["fixings"] is True or wire.get("id") in there for wire in clipped):
        yield "clips.level_m", "clips that stand already are not set off their heights; leave it at 0"


def _some(names: object) -> list[str]:
    if isinstance(names, str):
        return [names]
    return [name for name in names if isinstance(name, str)] if isinstance(names, list | tuple) else []
