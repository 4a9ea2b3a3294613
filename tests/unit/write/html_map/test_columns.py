"""Columns and paths say what the tables say, rounded as a person reads it."""

import base64
import gzip
import json
from itertools import accumulate

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box
from wirerun.write.html_map.columns import compressed, pack_codes, pack_numbers, pack_path, pack_rings, pack_words


@given(
    st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), max_size=30),
    st.integers(min_value=0, max_value=3),
)
def test_numbers_are_rounded_to_what_is_shown(values: list[float | None], decimals: int) -> None:
    packed = pack_numbers(np.array(values, dtype=float), decimals)
    assert packed["decimals"] == decimals
    for given_one, one in zip(values, packed["values"], strict=True):
        assert (one is None) == (given_one is None)
        if given_one is not None:
            assert one == pytest.approx(given_one, abs=0.5001 * 10**-decimals)
            assert len(json.dumps(one).partition(".")[2].partition("e")[0]) <= max(decimals, 1)


def test_numbers_by_hand() -> None:
    assert pack_numbers([6.0, np.nan, 12.044], 2) == {"decimals": 2, "values": [6.0, None, 12.04]}
    # Nobody means "-0.0".
    assert json.dumps(pack_numbers([-0.04], 1)["values"]) == "[0.0]"


def test_what_is_missing_is_none() -> None:
    assert pack_codes([3, None, float("nan"), 0]) == [3, None, None, 0]
    assert pack_codes(np.array([2, 1])) == [2, 1]
    assert pack_words(["over", None, "", float("nan")]) == ["over", None, "", None]
    assert pack_numbers([]) == {"decimals": 0, "values": []}


@pytest.mark.parametrize(
    "text", ["</script><script>x()</script>", "<!--<script>", "a&b", "\u2028\u2029", "\ud800", "{{ 7 * 7 }}", "北坡"]
)
def test_compressed_data_comes_back_and_means_nothing_to_a_parser(text: str) -> None:
    packed = compressed({"name": text, "load": [1.5, None]})
    assert set(packed) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/=")
    assert json.loads(gzip.decompress(base64.b64decode(packed))) == {"name": text, "load": [1.5, None]}


def test_a_column_of_few_words_travels_as_words_and_places() -> None:
    many, few = [f"B01-R{number:03d}" for number in range(30)], [None, *["over", "under"] * 20]
    packed = compressed({"id": many, "clips": [{"seat": few, "load": [0.5] * 30}]})
    travelled = json.loads(gzip.decompress(base64.b64decode(packed)))
    assert travelled["id"] == many
    (clip,) = travelled["clips"]
    assert clip == {"seat": {"words": [None, "over", "under"], "at": [0, *[1, 2] * 20]}, "load": [0.5] * 30}


def test_the_time_of_day_is_not_in_the_compressed_data() -> None:
    # RFC 1952, 2.3.1: bytes 4 to 7 of the header are the time of the file, 0 for none.
    assert base64.b64decode(compressed({}))[4:8] == bytes(4)


def test_a_number_that_is_none_of_json_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON"):
        compressed({"load": float("inf")})


def test_a_path_is_steps_from_the_origin_longitude_first() -> None:
    path = pack_path([(-7.6, 41.2), (-7.5999990, 41.2000005)], (-7.6000010, 41.1999970))
    assert path == [10, 30, 10, 5]
    assert list(accumulate(path[::2])) == [10, 20]
    assert pack_path(np.empty((0, 2)), (0.0, 0.0)) == []


def test_holes_and_parts_all_give_rings() -> None:
    holed = Polygon(box(0, 0, 3, 3).exterior, [box(1, 1, 2, 2).exterior])
    assert len(pack_rings(MultiPolygon([holed, box(5, 5, 6, 6)]), (0.0, 0.0))) == 3
    assert pack_rings(MultiPolygon(), (0.0, 0.0)) == []
    assert pack_rings(Point(1, 1), (0.0, 0.0)) == []
