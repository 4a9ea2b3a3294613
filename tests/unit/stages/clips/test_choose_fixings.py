"""Fixings: which, how many and why, against a choice made by hand, line by line."""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from wirerun.arrays import BoolArray, IntArray, no_words
from wirerun.findings import Findings
from wirerun.model.clips import ClipPositions, Clips, Fixings, Need
from wirerun.model.layout import PostHeights, Posts
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import FixingItem, PostItem
from wirerun.stages.clips.choose_fixings import choose_fixings
from wirerun.state import IN_CLIPS

DAY = dt.date(2026, 1, 2)
ORIGIN = {"source": "made up in this test", "date": DAY}


def fixing(name: str, kind: str, holds: str, lets_go_n: float, **changes: Any) -> FixingItem:  # noqa: ANN401
    kinds: dict[str, dict[str, Any]] = {
        "screw-fixed clip": {
            "fastener": "screw",
            "fastener_kind": "screw",
            "shank": "threaded",
            "driven": "screwdriver",
        },
        "staple-fixed clip": {"fastener": "staple", "fastener_kind": "staple", "shank": "ringed", "driven": "air"},
        "formed staple": {"fastener_kind": "staple", "shank": "ringed", "driven": "hand"},
        "hook": {"fixes_to": "steel", "fastener_kind": "none", "shank": "none", "driven": "none", "fasteners": 0},
        "plain staple": {"fastener_kind": "staple", "shank": "smooth", "driven": "hand"},
    }
    size = dict.fromkeys(("fastener_diameter_mm", "fastener_length_mm"), 0.0)
    size |= {} if kind == "hook" else {"fastener_diameter_mm": 4.0, "fastener_length_mm": 30.0}
    fields = {
        "fixes_to": "timber",
        "net_safe": True,
        "minutes": 0.5,
        "price": 1.0,
        **size,
        **kinds[kind],
        **ORIGIN,
        **changes,
    }
    return FixingItem(id=name, kind=kind, holds=holds, lets_go_n=lets_go_n, **fields)


def post(name: str, gravity: float | None = 0.45) -> PostItem:
    material = "steel" if gravity is None else "timber"
    sizes = {"length_m": 2.6, "depth_m": 0.6, "width_mm": 80.0, "pull_out_n": 883.0, "minutes": 5.0}
    return PostItem(id=name, kind="intermediate", material=material, specific_gravity=gravity, **sizes, **ORIGIN)


def config(**changes: Any) -> Config:  # noqa: ANN401 - sections of the config
    return Config.model_validate(
        {
            "name": "x",
            "block": {"boundary": "b"},
            "elevation": {"raster": "r"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": [
                {"id": "fruiting", "kind": "fixed", "height_m": 0.9, "tension_n": 1000.0},
                {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2},
                {"id": "upper", "kind": "foliage", "height_m": 1.5, "lines": 2},
            ],
            **changes,
        }
    )


def one_place_each(wires: int, posts: int) -> ClipPositions:
    """One clip for each wire on each post, at a height of its own."""
    strung = np.broadcast_to(np.eye(wires, dtype=bool)[:, None, :], (wires, posts, wires))
    nowhere = np.zeros_like(strung)
    return ClipPositions(np.arange(1.0, wires + 1.0), strung, nowhere, nowhere, nowhere, np.empty(0))


@dataclass(frozen=True)
class Case:
    """One row of posts, what each asks for on one wire, and which post of the catalogue each is."""

    standing: tuple[Posts, PostHeights]
    places: ClipPositions
    clips: Clips
    need: Need
    uplift: BoolArray
    wire: IntArray

    def fix(self, config: Config, catalogue: Catalogue) -> tuple[Fixings, Findings]:
        """Fixings of the case, and what was noticed."""
        notes = Findings("B01")
        made = choose_fixings(self.standing, self.places, self.clips, self.need, self.uplift, config, catalogue, notes)
        return made, notes

    def of(self, values: Any) -> list[Any]:  # noqa: ANN401 - an array of any kind
        """Values at the wire that each post was asked about."""
        return list(values[self.wire, self.standing[0].middle])


@pytest.fixture
def lines(stand: Callable[..., Posts]) -> Callable[..., Case]:
    """One post a load: (clip, least, greatest, strung); a staple is on the fixed wire, all else on lower."""

    def make(*loads: tuple[str | None, float, float, float], item: Any = "pine", side_n: Any = 0.0) -> Case:  # noqa: ANN401
        posts = stand([0.0] * (len(loads) + 2))
        wire = np.array([0 if load[0] == "staple" else 1 for load in loads])
        shape, at = (3, len(posts)), (wire, posts.middle)
        kind, (least, greatest, strung, side) = no_words(shape), np.full((4, *shape), np.nan)
        kind[at] = [load[0] for load in loads]
        least[at], greatest[at], strung[at] = np.array([load[1:] for load in loads]).T
        side[at] = side_n
        bought = no_words(len(posts))
        bought[posts.middle] = item
        states = (*shape, len(IN_CLIPS))
        return Case(
            (posts, PostHeights(np.full(len(posts), 1.9), bought)),
            one_place_each(3, len(posts)),
            Clips(kind, no_words(shape), np.zeros(shape, dtype=bool), no_words(states), no_words(states)),
            Need(np.full(states, np.nan), np.full(shape, np.nan), no_words(shape), least, greatest, side),
            strung < -5.0,
            wire,
        )

    return make


ONE_WAY = fixing("open clip", "screw-fixed clip", "down", 200.0, price=0.2)
TWO_WAY = fixing("closed clip", "screw-fixed clip", "both", 400.0, price=0.5)
TWO_WAY_AIR = fixing("stapled clip", "staple-fixed clip", "both", 300.0, price=0.4, net_safe=False)
STAPLE = fixing("ringed staple", "formed staple", "both", 900.0, price=0.1)
PLAIN = fixing("smooth staple", "plain staple", "both", 900.0, price=0.02)
ALL = Catalogue(fixings=(ONE_WAY, TWO_WAY, TWO_WAY_AIR, STAPLE, PLAIN), posts=(post("pine"), post("soft", 0.3)))


def test_each_clip_gets_the_cheapest_of_its_kind(lines: Callable[..., Case]) -> None:
    case = lines(("one-way", 0.0, 50.0, 5.0), ("two-way", -60.0, 10.0, -20.0), ("staple", -3.0, 40.0, 20.0))
    made, notes = case.fix(config(), ALL)
    assert case.of(made.item) == ["open clip", "stapled clip", "smooth staple"]
    assert case.of(made.reason) == ["cheapest of 3 that hold", "cheapest of 2 that hold", "cheapest of 2 that hold"]
    assert notes == []
    assert set(made.item[:, case.standing[0].is_end].ravel()) == {None}
    assert case.of(made.pieces) == [2, 2, 1]
    assert made.pieces[:, case.standing[0].is_end].sum() == 0


def test_what_holds_is_the_weaker_of_clip_and_timber(lines: Callable[..., Case]) -> None:
    """Two legs, 54.12 G^2.5 D L each (Wood Handbook, ch. 8), over 5; the wire lets go at 300 N, over 1.5."""
    legs = 2 * 54.12 * 0.45**2.5 * 4.0 * 30.0 / 5.0
    load = ("two-way", -60.0, 10.0, -20.0)
    pine, soft, stronger = lines(load), lines(load, item="soft"), lines(("two-way", -230.0, 10.0, -20.0))
    assert legs == pytest.approx(352.9, abs=0.1)
    assert pine.of(pine.fix(config(), ALL)[0].holds_n) == pytest.approx([200.0])
    held = soft.of(soft.fix(config(), ALL)[0].holds_n)
    assert held == pytest.approx([2 * 54.12 * 0.3**2.5 * 4.0 * 30.0 / 5.0], rel=1e-9)
    made, _ = stronger.fix(config(), ALL)
    assert stronger.of(made.item) == ["closed clip"]
    assert stronger.of(made.reason) == ["the only one that holds"]


def test_up_down_and_sideways_count_together(lines: Callable[..., Case]) -> None:
    for side_n, name in ((160.0, "stapled clip"), (160.1, "closed clip")):  # 200 N it holds, hypot(120, 160) = 200
        case = lines(("two-way", -120.0, 10.0, -20.0), side_n=side_n)
        assert case.of(case.fix(config(), ALL)[0].item) == [name]


def test_nets_and_tools_shut_out_what_does_not_suit(lines: Callable[..., Case]) -> None:
    case = lines(("two-way", -60.0, 10.0, -20.0))
    netted, _ = case.fix(config(clips={"nets": True}), ALL)
    by_hand, _ = case.fix(config(fixings={"driven": "hand"}), ALL)
    assert case.of(netted.item) == case.of(by_hand.item) == ["closed clip"]


def test_labour_can_turn_the_choice(lines: Callable[..., Case]) -> None:
    slow = TWO_WAY_AIR.model_copy(update={"minutes": 3.0})
    catalogue = Catalogue(fixings=(TWO_WAY, slow), posts=ALL.posts)
    case = lines(("two-way", -60.0, 10.0, -20.0))
    assert case.of(case.fix(config(), catalogue)[0].item) == ["stapled clip"]
    dear = config(work={"labour_per_hour": 30.0})
    assert case.of(case.fix(dear, catalogue)[0].item) == ["closed clip"]


def test_a_smooth_staple_is_a_last_resort_under_lasting_uplift(lines: Callable[..., Case]) -> None:
    case = lines(("staple", -30.0, 40.0, -20.0), ("staple", -30.0, 40.0, 10.0))
    made, notes = case.fix(config(), ALL)
    assert case.of(made.item) == ["ringed staple", "smooth staple"]
    assert notes == []
    only = Catalogue(fixings=(PLAIN,), posts=ALL.posts)
    made, (finding,) = case.fix(config(), only)
    assert case.of(made.item) == ["smooth staple", "smooth staple"]
    assert finding.code == "smooth-in-uplift"
    assert "1 wire pulling" in finding.message
    assert "B01-R001-P002." in finding.message
    assert "lasting uplift" in case.of(made.reason)[0]


def test_nothing_suitable_is_a_finding_that_says_why(lines: Callable[..., Case]) -> None:
    loads = (("two-way", -500.0, 10.0, -20.0), ("two-way", -700.0, 0.0, -20.0))
    case = lines(*loads)
    made, (finding,) = case.fix(config(), ALL)
    assert case.of(made.item) == [None, None]
    assert np.isnan(case.of(made.holds_n)).all()
    assert finding.code == "no-fixing"
    assert "2 places, up to 700 N" in finding.message
    air_only = Catalogue(fixings=(TWO_WAY_AIR,), posts=ALL.posts)
    for reason, (each, settings, catalogue) in {
        "none of the right kind holds the load": (case, config(), ALL),
        "no fixing in the catalogue for this post": (lines(*loads, item=None), config(), ALL),
        "no two-way fixing in the catalogue for this post": (
            case,
            config(),
            Catalogue(fixings=(ONE_WAY, STAPLE), posts=ALL.posts),
        ),
        "none of the right kind is safe for nets": (case, config(clips={"nets": True}), air_only),
        "none of the right kind is driven as the config asks": (case, config(fixings={"driven": "hand"}), air_only),
    }.items():
        assert set(each.of(each.fix(settings, catalogue)[0].reason)) == {reason}


def test_a_steel_post_takes_hooks_and_no_timber_fastener(lines: Callable[..., Case]) -> None:
    hook = fixing("hook", "hook", "both", 600.0)
    catalogue = Catalogue(fixings=(*ALL.fixings, hook), posts=(post("rail", None),))
    case = lines(("two-way", -300.0, 10.0, -20.0), ("staple", 10.0, 20.0, 15.0), item="rail")
    made, _ = case.fix(config(), catalogue)
    assert case.of(made.item) == ["hook", "hook"]
    assert case.of(made.holds_n) == pytest.approx([400.0, 400.0])


def test_a_catalogue_without_fixings_is_said_at_every_post(lines: Callable[..., Case]) -> None:
    case = lines(("one-way", 0.0, 1.0, 0.0))
    made, notes = case.fix(config(), Catalogue())
    assert case.of(made.reason) == ["the catalogue has no fixings"]
    assert case.of(made.item) == [None]
    assert notes == []


def test_the_choice_is_that_of_a_loop_over_every_line(lines: Callable[..., Case]) -> None:
    """A twin in plain words: walk the catalogue for each line and keep the cheapest that passes."""
    draw = np.random.default_rng(11)
    kind = [
        str(draw.choice(["screw-fixed clip", "staple-fixed clip", "formed staple", "plain staple"])) for _ in "x" * 20
    ]
    fixings = tuple(
        fixing(
            f"item {n}",
            kind[n],
            "both" if kind[n].endswith(" staple") else str(draw.choice(["down", "both", "up"])),
            float(draw.uniform(50, 500)),
            price=None if n % 7 == 0 else float(draw.uniform(0.1, 1.0)),
            net_safe=bool(draw.random() < 0.6),
            fastener_length_mm=float(draw.uniform(15, 60)),
        )
        for n in range(20)
    )
    catalogue = Catalogue(fixings=fixings, posts=ALL.posts)
    kinds = draw.choice(["one-way", "two-way", "staple"], 300)
    loads = [(str(k), -draw.uniform(0, 250), draw.uniform(0, 250), draw.normal(0, 50)) for k in kinds]
    items, aside = draw.choice(["pine", "soft"], len(loads)), draw.uniform(0, 60, len(loads))
    case = lines(*loads, item=items, side_n=aside)
    made, _ = case.fix(config(clips={"nets": True}), catalogue)
    gravity = {"pine": 0.45, "soft": 0.3}
    for (clip, least, greatest, strung), item, side_n, found in zip(
        loads, items, aside, case.of(made.item), strict=True
    ):
        best: tuple[float, str | None] = (math.inf, None)
        for one in fixings:
            staple = one.kind in ("formed staple", "plain staple")
            right = {
                "staple": staple,
                "two-way": not staple and one.holds == "both",
                "one-way": not staple and one.holds != "up",
            }[clip]
            each = 108.25 * gravity[item] ** 2 if one.fastener_kind == "screw" else 2 * 54.12 * gravity[item] ** 2.5
            timber = each * one.fastener_diameter_mm * one.fastener_length_mm / 5.0
            up = 0.0 if clip == "one-way" else max(-least, 0.0)
            need = math.hypot(max(up, greatest), side_n)
            if not right or not one.net_safe or min(timber, one.lets_go_n / 1.5) < need:
                continue
            late = 1e9 if one.shank == "smooth" and strung < -5.0 else 0.0
            cost = late + (1e7 if one.price is None else one.price)
            if cost < best[0]:
                best = (cost, one.id)
        assert found == best[1]
    assert sum(name is not None for name in case.of(made.item)) > 100
    assert sum(name is None for name in case.of(made.item)) > 20
