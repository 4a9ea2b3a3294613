"""Fixings: which, how many and why, against a choice made by hand, line by line."""

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from wirerun.arrays import BoolArray, FloatArray, IntArray, TextArray, no_words
from wirerun.findings import Findings
from wirerun.model.clips import ClipPositions, Clips, FixingOption, Fixings, Need
from wirerun.model.layout import PostHeights, Posts
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import PostItem
from wirerun.settings.fixing_item import FixingItem
from wirerun.stages.clips.choose_fixings import OnPosts, choose_fixings
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
        made, _ = self.choose(config, catalogue, notes)
        return made, notes

    def choose(
        self, config: Config, catalogue: Catalogue, notes: Findings, there: IntArray | None = None
    ) -> tuple[Fixings, tuple[FixingOption, ...]]:
        """Fixings and what was compared, on level ground."""
        posts, heights = self.standing
        on_posts = OnPosts(posts, heights, np.ones(len(posts.rows)), there)
        return choose_fixings(on_posts, self.places, self.clips, self.need, self.uplift, config, catalogue, notes)

    def of(self, values: Any) -> list[Any]:  # noqa: ANN401 - an array of any kind
        """Values at the wire that each post was asked about."""
        return list(values[self.wire, self.standing[0].middle])


@pytest.fixture
def lines(stand: Callable[..., Posts]) -> Callable[..., Case]:
    """One post a load: (clip, least, greatest, strung); a staple is on the fixed wire, all else on lower."""

    def make(
        *loads: tuple[str | None, float, float, float],
        item: str | list[str] | TextArray | None = "pine",
        side_n: float | FloatArray = 0.0,
        bears_down: float = 1.0,
    ) -> Case:
        posts = stand([0.0] * (len(loads) + 2))
        wire = np.array([0 if load[0] == "staple" else 1 for load in loads])
        shape, at = (3, len(posts)), (wire, posts.middle)
        kind, (least, greatest, strung, side) = no_words(shape), np.full((4, *shape), np.nan)
        kind[at] = [load[0] for load in loads]
        least[at], greatest[at], strung[at] = np.array([load[1:] for load in loads]).T
        side[at] = side_n
        falls = np.full(shape, np.nan)
        falls[at] = bears_down
        bought = no_words(len(posts))
        bought[posts.middle] = item
        states, unsure = (*shape, len(IN_CLIPS)), np.full(shape, np.nan)
        return Case(
            (posts, PostHeights(np.full(len(posts), 1.9), bought)),
            one_place_each(3, len(posts)),
            Clips(kind, no_words(shape), np.zeros(shape, dtype=bool), no_words(states), no_words(states)),
            Need(np.full(states, np.nan), unsure, no_words(shape), least, greatest, side, unsure, falls),
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
    pair, alone = "of the cheapest 2 kinds that hold everywhere", "the cheapest kind that holds everywhere"
    assert case.of(made.reason) == [pair, pair, alone]
    assert notes == []
    assert set(made.item[:, case.standing[0].is_end].ravel()) == {None}
    assert case.of(made.pieces) == [2, 2, 1]
    assert case.of(made.positions) == [1, 1, 1]
    assert made.positions[:, case.standing[0].is_end].sum() == made.pieces[:, case.standing[0].is_end].sum() == 0


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
    assert stronger.of(made.reason) == ["the cheapest kind that holds everywhere"]


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


def test_a_set_that_leaves_posts_unheld_does_not_say_it_holds_everywhere(lines: Callable[..., Case]) -> None:
    """600 N hold neither clip at a third (400 / 1.5), so that the set holds two posts of three."""
    one = lines(("two-way", -60.0, 10.0, -20.0), ("two-way", -230.0, 10.0, -20.0), ("two-way", -600.0, 0.0, -20.0))
    made, _ = one.fix(config(), Catalogue(fixings=(TWO_WAY,), posts=ALL.posts))
    left = "the cheapest kind that leaves the fewest posts unheld"
    assert one.of(made.reason) == [left, left, "none of the right kind holds the load"]
    made, _ = one.fix(config(), ALL)
    both = "of the cheapest 2 kinds that leave the fewest posts unheld"
    assert one.of(made.reason) == [both, both, "none of the right kind holds the load"]


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


@pytest.mark.parametrize("seed", range(6))
def test_the_choice_is_that_of_a_walk_through_every_set(seed: int, lines: Callable[..., Case]) -> None:
    """A twin in plain words: what holds at each place, then every set of one, two, three fixings, then all."""
    draw = np.random.default_rng(seed)
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
    most = draw.choice([60.0, 250.0])  # with gentle pulls few kinds hold everywhere, with hard ones nothing does
    kinds = draw.choice(["one-way", "two-way", "staple"], 120)
    loads = [(str(k), -draw.uniform(0, most), draw.uniform(0, most), draw.normal(0, 50)) for k in kinds]
    items, aside = draw.choice(["pine", "soft"], len(loads)), draw.uniform(0, 60, len(loads))
    case = lines(*loads, item=items, side_n=aside)
    falls = np.where(draw.random(case.need.need.shape) < 0.5, 0.01, 0.9)
    case = replace(case, need=replace(case.need, bears_down=falls))
    made, _ = case.fix(config(clips={"nets": True}), catalogue)
    turns = case.need.bears_down[case.wire, case.standing[0].middle] < 0.05
    gravity = {"pine": 0.45, "soft": 0.3}
    able: list[dict[str, float]] = []
    for (clip, least, greatest, strung), item, side_n, turn in zip(loads, items, aside, turns, strict=True):
        held = {}
        for one in fixings:
            staple = one.kind in ("formed staple", "plain staple")
            right = {
                "staple": staple,
                "two-way": (not staple and one.holds == "both") or (one.holds == "up" and turn),
                "one-way": not staple and one.holds != "up",
            }[clip]
            each = 108.25 * gravity[item] ** 2 if one.fastener_kind == "screw" else 2 * 54.12 * gravity[item] ** 2.5
            timber = each * one.fastener_diameter_mm * one.fastener_length_mm / 5.0
            up, down = (0.0 if clip == "one-way" else max(-least, 0.0)), (0.0 if one.holds == "up" else greatest)
            if right and one.net_safe and min(timber, one.lets_go_n / 1.5) >= math.hypot(max(up, down), side_n):
                held[one.id] = 1e7 if one.price is None else one.price
        late = [one.id for one in fixings if one.shank == "smooth" and strung < -5.0]
        able.append({name: cost for name, cost in held.items() if name not in late} or held)
    for staples in (True, False):
        mine = [n for n, load in enumerate(loads) if (load[0] == "staple") is staples]
        lines_of = 1 if staples else 2
        usable = sorted({name for n in mine for name in able[n]}, key=lambda name: int(name.split()[1]))

        def worth(kinds: tuple[str, ...], mine: list[int] = mine, each: int = lines_of) -> tuple[int, float, int]:
            got = [min((able[n][name] for name in kinds if name in able[n]), default=None) for n in mine]
            return got.count(None), each * sum(cost or 0.0 for cost in got), len(kinds)

        least_lost = worth(tuple(usable))[0]
        chosen = tuple(usable)
        for size in (2, 3):
            sets = (few for k in range(1, size + 1) for few in combinations(usable, k))
            best = min(sets, key=worth, default=())
            if worth(best)[0] == least_lost:
                chosen = best
                break
        for n in mine:
            cheapest = min((name for name in chosen if name in able[n]), key=lambda name: able[n][name], default=None)
            assert case.of(made.item)[n] == cheapest
    assert sum(name is not None for name in case.of(made.item)) > 40


def test_a_wire_that_pulls_up_for_good_can_have_a_clip_upside_down(lines: Callable[..., Case]) -> None:
    turned = fixing("open clip, upside down", "screw-fixed clip", "up", 200.0, price=0.2, sold_as="open clip")
    catalogue = Catalogue(fixings=(ONE_WAY, turned, TWO_WAY), posts=ALL.posts)
    for bears_down, name in ((0.04, "open clip, upside down"), (0.06, "closed clip")):
        case = lines(("two-way", -60.0, 4.0, -20.0), bears_down=bears_down)
        assert case.of(case.fix(config(), catalogue)[0].item) == [name]
    # It has to hold what pulls up and aside; 133 N is what it may bear.
    strong = lines(("two-way", -134.0, 4.0, -20.0), bears_down=0.01)
    assert strong.of(strong.fix(config(), catalogue)[0].item) == ["closed clip"]


def test_a_staple_that_lets_go_of_the_wire_serves_foliage_wires_too(lines: Callable[..., Case]) -> None:
    """At 0.1 it is cheaper than any clip, and holds both ways."""
    movable = STAPLE.model_copy(update={"movable": True})
    case = lines(("one-way", 0.0, 50.0, 5.0), ("two-way", -60.0, 10.0, -20.0))
    made, _ = case.fix(config(), Catalogue(fixings=(ONE_WAY, TWO_WAY, movable), posts=ALL.posts))
    assert case.of(made.item) == ["ringed staple", "ringed staple"]
    assert case.of(case.fix(config(), ALL)[0].item) == ["open clip", "stapled clip"]


def test_a_harvester_shuts_out_what_is_not_known_to_be_safe(lines: Callable[..., Case]) -> None:
    safe = TWO_WAY.model_copy(update={"harvester_safe": True})
    case = lines(("two-way", -60.0, 10.0, -20.0))
    made, _ = case.fix(config(clips={"harvester": True}), Catalogue(fixings=(TWO_WAY_AIR, safe), posts=ALL.posts))
    assert case.of(made.item) == ["closed clip"]
    made, _ = case.fix(config(clips={"harvester": True}), ALL)
    assert case.of(made.reason) == ["none of the right kind is safe for a harvester"]


def test_the_user_has_the_last_word_and_is_told_where_it_does_not_hold(lines: Callable[..., Case]) -> None:
    case = lines(("one-way", 0.0, 50.0, 5.0), ("two-way", -60.0, 10.0, -20.0), ("two-way", -250.0, 0.0, -20.0))
    made, notes = case.fix(config(fixings={"use": ["stapled clip"]}), ALL)
    assert case.of(made.item) == ["stapled clip", "stapled clip", None]
    assert case.of(made.reason) == ["of fixings.use"] * 2 + ["none of the right kind holds the load"]
    assert [note.code for note in notes] == ["no-fixing"]


def test_more_kinds_than_asked_for_are_taken_only_where_fewer_do_not_hold(lines: Callable[..., Case]) -> None:
    strong = fixing("strong clip", "screw-fixed clip", "both", 800.0, price=9.0, fasteners=2)
    catalogue = Catalogue(fixings=(ONE_WAY, TWO_WAY, strong), posts=ALL.posts)
    loads = [("one-way", 0.0, 50.0, 5.0)] * 9 + [("two-way", -60.0, 10.0, -20.0)] * 9
    gentle = lines(*loads)
    made, notes = gentle.fix(config(fixings={"most_kinds": 1}), catalogue)
    assert set(gentle.of(made.item)) == {"closed clip"}
    assert notes == []
    hard = lines(*loads, ("two-way", -400.0, 10.0, -20.0))
    made, notes = hard.fix(config(fixings={"most_kinds": 1}), catalogue)
    assert set(hard.of(made.item)) == {"strong clip"}
    made, _ = hard.fix(config(), catalogue)  # two kinds: the strong one at one post and the both-way one elsewhere
    assert set(hard.of(made.item)) == {"closed clip", "strong clip"}
    split = lines(("staple", 1.0, 2.0, 1.0), ("staple", 1.0, 2.0, 1.0), item=["pine", "rail"])
    hook = fixing("hook", "hook", "both", 600.0)
    two = Catalogue(fixings=(STAPLE, hook), posts=(post("pine"), post("rail", None)))
    made, (note,) = split.fix(config(fixings={"most_kinds": 1}), two)
    assert split.of(made.item) == ["ringed staple", "hook"]
    assert note.code == "more-kinds"
    assert "(fixings.most_kinds = 1); 2 are taken: ringed staple, hook." in note.message


def test_options_say_what_each_set_would_take(lines: Callable[..., Case]) -> None:
    """Three one-way and two two-way places, two lines each; 20 an hour, half a minute a piece, one post too hard."""
    loads = [("one-way", 0.0, 50.0, 5.0)] * 3 + [("two-way", -60.0, 10.0, -20.0), ("two-way", -230.0, 10.0, -20.0)]
    long_lived = ONE_WAY.model_copy(update={"life_years": 10.0, "removal_minutes": 0.3})
    closed = TWO_WAY.model_copy(update={"life_years": 20.0, "removal_minutes": 0.6})
    catalogue = Catalogue(fixings=(long_lived, closed, TWO_WAY_AIR), posts=ALL.posts)
    _, options = lines(*loads).choose(config(work={"labour_per_hour": 20.0}), catalogue, Findings())
    by_kinds = {option.kinds: option for option in options}
    pair = by_kinds[0, 1]
    assert (pair.pieces, pair.unheld, pair.chosen) == ((6, 4), (0, 0, 0, 0), True)
    assert pair.price == pytest.approx(6 * 0.2 + 4 * 0.5)
    assert pair.hours == pytest.approx(10 * 0.5 / 60.0)
    assert pair.cost == pytest.approx(3.2 + 20.0 * pair.hours)
    assert pair.cost_per_year == pytest.approx((1.2 + 6 / 6.0) / 10.0 + (2.0 + 4 / 6.0) / 20.0)
    assert pair.removal_hours == pytest.approx((6 * 0.3 + 4 * 0.6) / 60.0)
    assert by_kinds[0,].unheld == (2, 2, 0, 0)  # one-way alone: two posts, both where the wire pulls up
    assert by_kinds[2,].unheld == (1, 1, 0, 0)
    assert np.isnan(by_kinds[2,].cost_per_year)
    assert sum(option.chosen for option in options) == 1


def test_what_pulls_only_aside_may_use_all_that_a_clip_upside_down_holds(lines: Callable[..., Case]) -> None:
    """150 N over 1.5: 100 N aside is just held, the wire resting on it with 4 N in every state."""
    turned = fixing("upside down", "screw-fixed clip", "up", 150.0)
    for side_n, name in ((100.0, "upside down"), (100.1, None)):
        case = lines(("two-way", 4.0, 4.0, 4.0), side_n=side_n, bears_down=0.01)
        assert case.of(case.fix(config(), Catalogue(fixings=(turned,), posts=ALL.posts))[0].item) == [name]


def test_what_stands_already_is_not_bought_again(lines: Callable[..., Case]) -> None:
    """Clips of two lines: both stand, though they would not hold, or one does, or none; and a staple, which stands."""
    loads = [("two-way", -900.0, 0.0, -9.0), *[("one-way", 0.0, 50.0, 5.0)] * 2, ("staple", 1.0, 2.0, 1.0)]
    case, notes = lines(*loads), Findings("B01")
    there = np.zeros(case.clips.kind.shape, dtype=np.int64)
    there[case.wire, case.standing[0].middle] = [2, 1, 0, 1]
    made, options = case.choose(config(), ALL, notes, there)
    bought = "the cheapest kind that holds everywhere"
    assert case.of(made.reason) == ["stands already", bought, bought, "stands already"]
    assert case.of(made.item) == [None, "open clip", "open clip", None]
    assert case.of(made.pieces) == [2, 2, 2, 1]
    assert [(option.holder, option.pieces) for option in options if option.chosen] == [("clip", (3,))]
    assert notes == []


def test_where_the_load_is_not_known_nothing_is_chosen(lines: Callable[..., Case]) -> None:
    case = lines((None, np.nan, np.nan, np.nan), ("one-way", 0.0, 50.0, 5.0))
    made, notes = case.fix(config(), ALL)
    assert case.of(made.reason) == ["load not known", "the cheapest kind that holds everywhere"]
    assert case.of(made.item) == [None, "open clip"]
    assert notes == []


def test_once_a_one_way_clip_is_tested_those_that_are_not_are_left(lines: Callable[..., Case]) -> None:
    """5 N is asked: it holds just so much, or not quite, by what its row says or by ten pulls of 12 N."""
    case, asks = lines(("one-way", 0.0, 50.0, 5.0)), config(undulation={"hold_down_n": 5.0})
    told = {"id": "told", "price": 0.4}
    for says, item in (
        ({"hold_down_n": 5.0}, "told"),
        ({"hold_down_n": 4.9}, None),
        ({"hold_down_tests_n": " ".join(["12"] * 10)}, "told"),
    ):
        catalogue = Catalogue(fixings=(ONE_WAY, ONE_WAY.model_copy(update=told | says)), posts=ALL.posts)
        made, _ = case.fix(asks, catalogue)
        assert case.of(made.item) == [item]
        why = "none of the right kind is known to hold its wire down by undulation.hold_down_n"
        assert case.of(made.reason) == ["the cheapest kind that holds everywhere" if item else why]


def test_what_holds_both_ways_wants_no_test_to_stand_in_for_a_one_way_clip(lines: Callable[..., Case]) -> None:
    weak = ONE_WAY.model_copy(update={"hold_down_n": 1.0})
    case = lines(("one-way", 0.0, 50.0, 5.0), ("two-way", -60.0, 10.0, -20.0))
    made, notes = case.fix(config(), Catalogue(fixings=(weak, TWO_WAY), posts=ALL.posts))
    assert case.of(made.item) == ["closed clip", "closed clip"]
    assert notes == []


def test_a_clip_holds_what_is_lifted_into_it_too(lines: Callable[..., Case]) -> None:
    """The upper wire, lifted into the lower one's clip on the first post, pulls up by 350 N: a stronger one there."""
    case = lines(*[("two-way", -60.0, 10.0, -20.0)] * 2)
    least = case.need.least_n.copy()
    least[2, 1] = -350.0
    lent = np.zeros_like(case.places.lent)
    lent[2, 1, 1] = True
    places = replace(case.places, lifted=lent, lent=lent)
    strong = fixing("strong clip", "screw-fixed clip", "both", 800.0, fasteners=2)
    case = replace(case, need=replace(case.need, least_n=least), places=places)
    made, _ = case.fix(config(), Catalogue(fixings=(TWO_WAY, strong), posts=ALL.posts))
    assert case.of(made.item) == ["strong clip", "closed clip"]
