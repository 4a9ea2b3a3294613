"""The numbers of posts and rows in the page are those of the tables."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from wirerun.records import Plan
from wirerun.tables import OF_STATE, as_lines
from wirerun.write.html_map.backdrop import Backdrop
from wirerun.write.html_map.data import map_data

Read = Callable[..., list[Any]]


@pytest.fixture(scope="session")
def data(plan: Plan) -> dict[str, Any]:
    """Return what the page of the small plan is given."""
    return map_data(plan, Backdrop((), (), (), 0.0))


def test_columns_named_in_cards_are_in_the_dictionary(data: dict[str, Any], read: Read) -> None:
    units = {line["label"]: line["unit"] for line in data["posts"]["lines"] + data["sections"]["lines"]}
    assert units["From row start"] == "m"
    assert units["Greatest pull-up"] == "N"
    assert read(data["sections"]["lines"][2]) == [130.7]


def test_posts_are_called_and_stand_as_in_the_table(plan: Plan, data: dict[str, Any]) -> None:
    assert data["posts"]["id"] == plan.posts["post_id"].tolist()
    lon0, lat0, decimals = data["origin"]
    steps = np.array(data["posts"]["places"]).reshape(-1, 2).cumsum(axis=0) / 10**decimals
    # A step is 11 mm at most.
    assert steps == pytest.approx(plan.posts[["lon", "lat"]].to_numpy() - [lon0, lat0], abs=0.51e-7)


def test_loads_clips_and_seats_of_every_state(plan: Plan, data: dict[str, Any], read: Read) -> None:
    clips = plan.clips.set_index(["wire_id", "post_id"])
    for wire, packed in zip(data["wires"], data["posts"]["clips"], strict=True):
        assert list(packed["states"]) == list(OF_STATE)
        for state, here in packed["states"].items():
            loads, held = read(here["load"]), read(here["held"])
            for at, post in enumerate(as_lines(plan.posts)):
                if post["kind"] == "end":
                    assert (loads[at], held[at]) == (None, None)
                    continue
                (line,) = as_lines(clips.loc[[(wire["id"], post["post_id"])]])
                words = [line[f"clip_{state}"], line[f"seat_{state}"]]
                assert held[at] == " ".join(word for word in words if isinstance(word, str))
                load = line[f"load_{state}_n"]
                assert loads[at] == (pytest.approx(load, abs=0.0501) if load == load else None)  # noqa: PLR0124 - NaN


def test_how_high_a_freed_wire_lies_at_each_post(data: dict[str, Any], read: Read) -> None:
    packed = [clips["dropped"] for clips in data["posts"]["clips"]]
    fruiting = read(packed[0])
    lower = read(packed[1])
    assert set(fruiting) == {None}
    assert lower == [None, 0.1, 0.1, 0.1, None, None, 0.9, 0.9, None]


def test_uplift_and_what_the_end_posts_carry(data: dict[str, Any], read: Read) -> None:
    uplift = next(line for line in data["posts"]["lines"] if line["label"] == "Uplift, all wires")
    assert read(uplift)[:5] == [None, pytest.approx(231.4, abs=0.1), 0.0, 0.0, None]
    first, last = data["rows"]["ends"]
    assert [read(line) for line in first] == [[2200.0, 2201.0], [2530.0, 2531.0]]
    assert [read(line) for line in last] == [[2200.3, 2201.3], [2534.0, 2535.0]]


def test_figures_of_a_rows_wires(data: dict[str, Any], read: Read) -> None:
    fruiting, lower = data["rows"]["wires"]
    assert read(fruiting["take_up_mm"]) == read(fruiting["drops_by_itself"]) == [None, None]
    assert read(lower["take_up_mm"]) == [0.0, 136.0]
    assert read(lower["drops_by_itself"]) == ["yes", "no"]
    assert read(lower["strain_from"]) == ["one end", "both ends"]
    assert read(lower["dropped_height_m"]) == [0.0, 0.87]
    tensions = [read(lower[f"{name}_n"])[1] for name in ("tension", "cold_tension", "hot_tension", "greatest_tension")]
    assert tensions == [300.0, 534.2, 60.5, 563.3]
    assert read(lower["lifted_tension_n"]) == [321.7, 321.7]  # of two positions the tighter
    assert read(fruiting["lifted_tension_n"]) == [None, None]
    assert {name: read(column) for name, column in lower["adjuster"].items()} == {
        "kind": [None, "winding strainer"],
        "end": [None, "far"],
        "turns": [None, 1.7],
    }
