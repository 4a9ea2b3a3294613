"""The trade's words where English-speaking countries have their own: one table, for map, cards, summary and order.

Only words that differ are in it; end post, end assembly, anchor, strainer, staple and coil are said everywhere. Tables
keep their column names and values, files their names, catalogues their items.

References
----------
Line posts, catch wires: B. Maier, Trellis End Post Assembly Designs for Vineyards, Guide H-331, New Mexico State
University; P. Domoto, Constructing a Vineyard Trellis, Iowa State University, 2002. Intermediate posts, foliage wires:
*common practice* in Australia and New Zealand.
"""

import re
from typing import Final, Literal

Terms = Literal["au-nz", "us"]

#: What is said otherwise, by what is written in this project; plurals follow. The last two are spelling.
WORDS: Final[dict[Terms, dict[str, str]]] = {
    "au-nz": {},
    "us": {
        "intermediate post": "line post",
        "foliage wire": "catch wire",
        "labour": "labor",
        "metre": "meter",
    },
}


def in_terms(words: str, terms: Terms) -> str:
    """Return a sentence in the words of a country; a capital stays one.

    >>> in_terms("Foliage wires, and labour at 1 intermediate post", "us")
    'Catch wires, and labor at 1 line post'
    >>> in_terms("Foliage wires", "au-nz")
    'Foliage wires'
    """
    table = WORDS[terms]
    if not table:
        return words

    def other(found: re.Match[str]) -> str:
        said = table[found[0].lower()]
        return said.capitalize() if found[0][0].isupper() else said

    return re.sub("|".join(table), other, words, flags=re.IGNORECASE)
