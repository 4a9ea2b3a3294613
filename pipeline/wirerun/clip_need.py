"""What a post asks for, one word a post, and why: map, cards, layers and staking read it from `posts`."""

from enum import StrEnum
from typing import Final


class ClipNeed(StrEnum):
    """The most that any wire asks for at a post, the most first; the value is its word in tables and files."""

    TWO_WAY = "two-way"
    LOOK = "look-on-site"
    UNKNOWN = "unknown"
    ONE_WAY = "one-way"
    NONE = "none"


#: Why a post gets two-way clips, the most lasting first: a wire pulls up as strung, when lifted, on the coldest or the
#: hottest day; it pulls to the side; or the post only stands in an undulating section.
REASONS: Final = ("strung", "lifted", "cold", "hot", "sideways", "section")
