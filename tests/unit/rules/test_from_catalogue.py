"""What the catalogue fills in: the wire, its breaking load, the adjusters, the post and its pull-out."""

import datetime as dt
from typing import Any

import pytest
from wirerun.errors import SettingError
from wirerun.findings import Findings
from wirerun.rules.from_catalogue import cheapest_post, take_from_catalogue
from wirerun.settings import AdjusterKind, Catalogue, Config
from wirerun.settings.catalogue import AdjusterItem, PostItem, WireItem

ORIGIN = {"source": "made up in this test", "date": dt.date(2026, 1, 2)}


def wire(name: str, diameter_mm: float, price: float | None, coil_kg: float = 25.0) -> WireItem:
    return WireItem(
        id=name, diameter_mm=diameter_mm, grade="hard", breaking_n=6000.0, coil_kg=coil_kg, price=price, **ORIGIN
    )


def post(name: str, kind: str, length_m: float, price: float | None, pull_out_n: float = 900.0) -> PostItem:
    sizes = {"depth_m": 0.6, "width_mm": 80.0, "minutes": 5.0, "pull_out_n": pull_out_n, "specific_gravity": 0.45}
    return PostItem(id=name, kind=kind, material="timber", length_m=length_m, price=price, **sizes, **ORIGIN)


CATALOGUE = Catalogue(
    # By the metre the big coil is the cheaper one.
    wire=(wire("small coil", 2.5, 40.0, 10.0), wire("big coil", 2.5, 90.0), wire("unpriced", 2.5, None)),
    adjusters=(AdjusterItem(id="tie", most_mm=150.0, tail_m=0.3, minutes=4.0, **ORIGIN),),
    posts=(
        post("short", "intermediate", 2.4, 5.0),
        post("long", "intermediate", 2.5, 6.0, 1234.0),
        post("longer", "intermediate", 2.9, 9.0),
        post("end", "end", 2.6, 20.0),
    ),
)


def config(**changes: Any) -> Config:  # noqa: ANN401 - sections of the config
    whole = {
        "name": "x",
        "block": {"boundary": "b"},
        "elevation": {"raster": "r"},
        "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
        "wires": [{"id": "lower", "kind": "foliage", "height_m": 1.2}],
    }
    return Config.model_validate(whole | changes)


def test_what_the_config_does_not_say_comes_from_the_catalogue() -> None:
    notes = Findings()
    filled = take_from_catalogue(config(), CATALOGUE, notes)
    assert [note.code for note in notes] == ["clips-by-price"]
    assert (filled.wires[0].item, filled.wires[0].strength_n) == ("big coil", 6000.0)
    assert [kind.id for kind in filled.adjusters.kinds] == ["tie"]
    assert filled.posts.pull_out_n == 1234.0  # of the cheapest that is 1.9 m out of the ground


def test_what_the_config_says_stays() -> None:
    wires = [{"id": "lower", "kind": "foliage", "height_m": 1.2, "item": "small coil", "breaking_n": 5000.0}]
    own = config(wires=wires, posts={"post_pull_out_n": 700.0}, adjusters={"kinds": [{"id": "own", "most_mm": 99.0}]})
    filled = take_from_catalogue(own, CATALOGUE)
    assert (filled.wires[0].item, filled.wires[0].strength_n) == ("small coil", 5000.0)
    assert filled.posts.pull_out_n == 700.0
    assert filled.adjusters.kinds == (AdjusterKind(id="own", most_mm=99.0),)


def test_the_folder_of_the_config_is_kept() -> None:
    given = Config.model_validate(config().model_dump(), context={"file": "a/b.toml", "folder": "a"})
    filled = take_from_catalogue(given, CATALOGUE)
    assert (filled.file, str(filled.folder)) == ("a/b.toml", "a")


def test_a_wire_that_nobody_sells_is_a_finding() -> None:
    wires = [{"id": "thin", "kind": "foliage", "height_m": 1.2, "diameter_mm": 1.8}]
    notes = Findings()
    filled = take_from_catalogue(config(wires=wires), CATALOGUE, notes)
    (finding,) = [note for note in notes if note.code != "clips-by-price"]
    assert (filled.wires[0].item, filled.wires[0].breaking_n) == (None, None)
    assert (finding.code, finding.place) == ("not-in-catalogue", "thin")


@pytest.mark.parametrize(
    ("changes", "place", "message"),
    [
        (
            {"wires": [{"id": "w", "kind": "foliage", "height_m": 1.2, "item": "bronze"}]},
            "wires.w.item",
            "the catalogue has no 'bronze'; it has small coil, big coil, unpriced",
        ),
        (
            {"wires": [{"id": "w", "kind": "foliage", "height_m": 1.2, "diameter_mm": 3.0, "item": "big coil"}]},
            "wires.w.item",
            "'big coil' is 2.5 mm thick; diameter_mm = 3",
        ),
        ({"posts": {"end_item": "long"}}, "posts.end_item", "the catalogue has no 'long'; it has end"),
    ],
)
def test_an_item_that_is_not_there_or_does_not_fit_is_refused(
    changes: dict[str, Any], place: str, message: str
) -> None:
    with pytest.raises(SettingError) as caught:
        take_from_catalogue(config(**changes), CATALOGUE)
    assert (caught.value.place, caught.value.message) == (place, message)


def test_each_post_is_the_cheapest_that_is_long_enough() -> None:
    for kind, height_m, name in (
        ("end", 1.9, "end"),
        ("intermediate", 1.9, "long"),
        ("intermediate", 2.2, "longer"),
        ("end", 2.3, None),
    ):
        item = cheapest_post(CATALOGUE, kind, None, height_m)
        assert (None if item is None else item.id) == name


def test_a_named_post_is_taken_though_another_is_cheaper() -> None:
    item = cheapest_post(CATALOGUE, "intermediate", "longer", 1.9)
    assert item is not None
    assert item.id == "longer"
