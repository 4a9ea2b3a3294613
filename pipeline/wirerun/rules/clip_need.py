"""What a post asks for: one word a post, decided once; map, cards, layers and staking read it."""

from enum import StrEnum

from wirerun.tables.layout import CLIP_REASONS


class ClipNeed(StrEnum):
    """The most that any wire asks for at a post; the value is its word in tables and files."""

    NONE = "none"
    ONE_WAY = "one-way"
    UNKNOWN = "unknown"
    LOOK = "look-on-site"
    TWO_WAY = "two-way"


#: What each word means, for the dictionary of columns and the legends.
MEANING = {
    ClipNeed.TWO_WAY: "a two-way clip on one wire at least",
    ClipNeed.LOOK: "a look on site: a two-way clip is possible but not planned",
    ClipNeed.UNKNOWN: "unknown: no load could be computed",
    ClipNeed.ONE_WAY: "a one-way clip",
    ClipNeed.NONE: "none: an end post, or every wire is stapled",
}


#: Why a post gets two-way clips, the most lasting first: a wire pulls up as strung, when lifted, on the coldest or the
#: hottest day; it pulls to the side; or the post only stands in an undulating section.
REASONS = CLIP_REASONS
