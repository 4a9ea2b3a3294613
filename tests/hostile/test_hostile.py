"""A hundred hostile inputs, each refused in sentences or planned: no traceback, no endless work, no full memory.

By hand, as many as one likes, see DEVELOPERS.md: `python -m tests.hostile --count 2000 --seed 7`. What that finds is
mended, and its number stands in `FOUND`.
"""

import pytest

from tests.hostile.every import WAYS, name_of
from tests.hostile.watch import Seen, watch

# (seed, number) of cases that once did what none may do.
FOUND = (
    (1, 39),  # a comb of 2000 teeth filled the memory while its margin was taken off
    (1, 72),  # a guide of 20 000 corners filled the memory
    (1, 84),  # surveyed posts of which no two stand on a row: ValueError
    (2, 163),  # a raster of 361 million cells, none of them in the file: 2.3 GB
    (2, 175),  # 1000 rows that all cross: 19 s
    (2, 355),  # elevation.raster_crs = "EPSG:1": CRSError
)
HEAVY = {
    "many_exclusions",
    "many_vertices",
    "many_slivers",
    "many_wires",
    "bits",
    "sparse",
    "guides",
    "rows",
    "comb",
    "shot_posts",
}


def told(seen: list[Seen]) -> list[str]:
    return [one.told for one in seen if one.wrong]


@pytest.mark.parametrize("part", range(4))
def test_a_hundred_inputs(part: int) -> None:
    """One or two of every way; the heavy ones by hand only."""
    light = [n for n in range(2 * len(WAYS)) if name_of(n).split(".")[1] not in HEAVY]
    assert len(light) >= 100
    assert told(list(watch(light[part::4], seed=3))) == []


@pytest.mark.parametrize(("seed", "number"), FOUND)
def test_what_was_found(seed: int, number: int) -> None:
    assert told(list(watch([number], seed))) == []
