"""Fixings: which, how many and why, against a choice made by hand, line by line."""

import datetime as dt
import math
from typing import Any

import numpy as np
import pandas as pd
import pytest
from wirerun.settings import Catalogue, Config
from wirerun.settings.catalogue import FixingItem, PostItem
from wirerun.stages.clips.choose_fixings import choose_fixings

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


def lines(*loads: tuple[str, float, float, float], item: str | None = "pine") -> tuple[pd.DataFrame, pd.DataFrame]:
    """One post a load: (clip, least, greatest, strung); the clip of a staple is on the fixed wire."""
    count = len(loads)
    ids = [f"B01-R001-P{n + 2:03d}" for n in range(count)]
    posts = pd.DataFrame({"post_id": ids, "block_id": "B01", "post_item": item, "height_out_m": 1.9})
    clips = pd.DataFrame(loads, columns=["clip", "load_min_n", "load_max_n", "load_tight_n"])
    wire = np.where(clips["clip"] == "staple", "fruiting", "lower")
    return posts, clips.assign(post_id=ids, post=np.arange(count), wire_id=wire, load_side_n=0.0)


ONE_WAY = fixing("open clip", "screw-fixed clip", "down", 200.0, price=0.2)
TWO_WAY = fixing("closed clip", "screw-fixed clip", "both", 400.0, price=0.5)
TWO_WAY_AIR = fixing("stapled clip", "staple-fixed clip", "both", 300.0, price=0.4, net_safe=False)
STAPLE = fixing("ringed staple", "formed staple", "both", 900.0, price=0.1)
PLAIN = fixing("smooth staple", "plain staple", "both", 900.0, price=0.02)
ALL = Catalogue(fixings=(ONE_WAY, TWO_WAY, TWO_WAY_AIR, STAPLE, PLAIN), posts=(post("pine"), post("soft", 0.3)))


def chosen(clips: pd.DataFrame) -> list[Any]:
    return [None if pd.isna(name) else name for name in clips["fixing"]]


def test_each_clip_gets_the_cheapest_of_its_kind() -> None:
    posts, clips = lines(("one-way", 0.0, 50.0, 5.0), ("two-way", -60.0, 10.0, -20.0), ("staple", -3.0, 40.0, 20.0))
    made, findings = choose_fixings(posts, clips, config(), ALL)
    assert chosen(made) == ["open clip", "stapled clip", "smooth staple"]
    assert list(made["fixing_reason"]) == [
        "cheapest of 3 that hold",
        "cheapest of 2 that hold",
        "cheapest of 2 that hold",
    ]
    assert findings == []


def test_what_holds_is_the_weaker_of_clip_and_timber() -> None:
    """Two legs, 54.12 G^2.5 D L each (Wood Handbook, ch. 8), over 5; the wire lets go at 300 N, over 1.5."""
    legs = 2 * 54.12 * 0.45**2.5 * 4.0 * 30.0 / 5.0
    posts, clips = lines(("two-way", -60.0, 10.0, -20.0))
    made, _ = choose_fixings(posts, clips, config(), ALL)
    assert legs == pytest.approx(352.9, abs=0.1)
    assert made["holds_n"].iloc[0] == pytest.approx(200.0)
    soft, _ = choose_fixings(posts.assign(post_item="soft"), clips, config(), ALL)
    assert soft["holds_n"].iloc[0] == pytest.approx(2 * 54.12 * 0.3**2.5 * 4.0 * 30.0 / 5.0, rel=1e-9)
    stronger, _ = choose_fixings(posts, clips.assign(load_min_n=-230.0), config(), ALL)
    assert chosen(stronger) == ["closed clip"]
    assert stronger["fixing_reason"].iloc[0] == "the only one that holds"


def test_up_down_and_sideways_count_together() -> None:
    posts, clips = lines(("two-way", -120.0, 10.0, -20.0))
    made, _ = choose_fixings(posts, clips.assign(load_side_n=160.0), config(), ALL)
    assert chosen(made) == ["stapled clip"]  # 200 N it holds, hypot(120, 160) = 200
    made, _ = choose_fixings(posts, clips.assign(load_side_n=160.1), config(), ALL)
    assert chosen(made) == ["closed clip"]


def test_nets_and_tools_shut_out_what_does_not_suit() -> None:
    posts, clips = lines(("two-way", -60.0, 10.0, -20.0))
    netted, _ = choose_fixings(posts, clips, config(clips={"nets": True}), ALL)
    by_hand, _ = choose_fixings(posts, clips, config(fixings={"driven": "hand"}), ALL)
    assert chosen(netted) == chosen(by_hand) == ["closed clip"]


def test_labour_can_turn_the_choice() -> None:
    slow = TWO_WAY_AIR.model_copy(update={"minutes": 3.0})
    catalogue = Catalogue(fixings=(TWO_WAY, slow), posts=ALL.posts)
    posts, clips = lines(("two-way", -60.0, 10.0, -20.0))
    assert chosen(choose_fixings(posts, clips, config(), catalogue)[0]) == ["stapled clip"]
    dear = config(work={"labour_per_hour": 30.0})
    assert chosen(choose_fixings(posts, clips, dear, catalogue)[0]) == ["closed clip"]


def test_a_smooth_staple_is_a_last_resort_under_lasting_uplift() -> None:
    posts, clips = lines(("staple", -30.0, 40.0, -20.0), ("staple", -30.0, 40.0, 10.0))
    made, findings = choose_fixings(posts, clips, config(), ALL)
    assert chosen(made) == ["ringed staple", "smooth staple"]
    assert findings == []
    only = Catalogue(fixings=(PLAIN,), posts=ALL.posts)
    made, (finding,) = choose_fixings(posts, clips, config(), only)
    assert chosen(made) == ["smooth staple", "smooth staple"]
    assert finding.code == "smooth-in-uplift"
    assert "1 wire(s)" in finding.message
    assert "B01-R001-P002." in finding.message
    assert "lasting uplift" in made["fixing_reason"].iloc[0]


def test_nothing_suitable_is_a_finding_that_says_why() -> None:
    posts, clips = lines(("two-way", -500.0, 10.0, -20.0), ("two-way", -700.0, 0.0, -20.0))
    made, (finding,) = choose_fixings(posts, clips, config(), ALL)
    assert chosen(made) == [None, None]
    assert made["holds_n"].isna().all()
    assert finding.code == "no-fixing"
    assert "2 place(s), up to 700 N" in finding.message
    reasons = {
        "none of the right kind holds the load": choose_fixings(posts, clips, config(), ALL)[0],
        "no fixing in the catalogue for this post": choose_fixings(posts.assign(post_item=None), clips, config(), ALL)[
            0
        ],
        "no two-way fixing in the catalogue for this post": choose_fixings(
            posts, clips, config(), Catalogue(fixings=(ONE_WAY, STAPLE), posts=ALL.posts)
        )[0],
        "none of the right kind is safe for nets": choose_fixings(
            posts, clips, config(clips={"nets": True}), Catalogue(fixings=(TWO_WAY_AIR,), posts=ALL.posts)
        )[0],
        "none of the right kind is driven as the config asks": choose_fixings(
            posts, clips, config(fixings={"driven": "hand"}), Catalogue(fixings=(TWO_WAY_AIR,), posts=ALL.posts)
        )[0],
    }
    for reason, frame in reasons.items():
        assert set(frame["fixing_reason"]) == {reason}


def test_a_steel_post_takes_hooks_and_no_timber_fastener() -> None:
    hook = fixing("hook", "hook", "both", 600.0)
    catalogue = Catalogue(fixings=(*ALL.fixings, hook), posts=(post("rail", None),))
    posts, clips = lines(("two-way", -300.0, 10.0, -20.0), ("staple", 10.0, 20.0, 15.0), item="rail")
    made, _ = choose_fixings(posts, clips, config(), catalogue)
    assert chosen(made) == ["hook", "hook"]
    assert list(made["holds_n"]) == pytest.approx([400.0, 400.0])


def test_an_unknown_load_gets_no_fixing_and_no_finding() -> None:
    posts, clips = lines(("one-way", 0.0, 1.0, 0.0))
    unknown = clips.assign(clip=None, load_min_n=np.nan, load_max_n=np.nan, load_tight_n=np.nan, load_side_n=np.nan)
    made, findings = choose_fixings(posts, unknown, config(), ALL)
    assert chosen(made) == [None]
    assert made["fixing_reason"].iloc[0] == "load not known"
    assert findings == []


@pytest.mark.parametrize(("top", "lower", "upper"), [(1.9, 3, 1), (1.6, 3, 1), (1.0, 1, 1)])
def test_positions_belong_to_the_wire_that_is_lifted_through_them(top: float, lower: int, upper: int) -> None:
    """Clips at 0.95, 1.20, 1.45 and 1.70 m; wires at 1.2 and 1.5 m. A wire has one place at least."""
    posts, clips = lines(("one-way", 0.0, 1.0, 0.0), ("one-way", 0.0, 1.0, 0.0), ("staple", 0.0, 1.0, 0.0))
    clips["wire_id"] = ["lower", "upper", "fruiting"]
    made, _ = choose_fixings(posts.assign(height_out_m=top), clips, config(), ALL)
    assert list(made["positions"]) == [lower, upper, 1]
    assert list(made["pieces"]) == [2 * lower, 2 * upper, 1]


def test_lifts_of_the_config_say_where_clips_go() -> None:
    wires = [{"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2, "lifts_m": [1.4, 1.6, 1.8, 1.2]}]
    posts, clips = lines(("one-way", 0.0, 1.0, 0.0))
    made, _ = choose_fixings(posts.assign(height_out_m=1.6), clips, config(wires=wires), ALL)
    assert list(made["positions"]) == [3]  # 1.2, 1.4 and 1.6; 1.8 is above the post


def test_the_choice_is_that_of_a_loop_over_every_line() -> None:
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
    posts, clips = lines(*((k, -draw.uniform(0, 250), draw.uniform(0, 250), draw.normal(0, 50)) for k in kinds))
    posts["post_item"] = draw.choice(["pine", "soft"], len(posts))
    clips["load_side_n"] = draw.uniform(0, 60, len(clips))
    made, _ = choose_fixings(posts, clips, config(clips={"nets": True}), catalogue)
    gravity = {"pine": 0.45, "soft": 0.3}
    for line, item in zip(made.itertuples(), posts["post_item"], strict=True):
        best: tuple[float, str | None] = (math.inf, None)
        for one in fixings:
            staple = one.kind in ("formed staple", "plain staple")
            right = {
                "staple": staple,
                "two-way": not staple and one.holds == "both",
                "one-way": not staple and one.holds != "up",
            }[str(line.clip)]
            each = 108.25 * gravity[item] ** 2 if one.fastener_kind == "screw" else 2 * 54.12 * gravity[item] ** 2.5
            timber = each * one.fastener_diameter_mm * one.fastener_length_mm / 5.0
            up = 0.0 if line.clip == "one-way" else max(-line.load_min_n, 0.0)
            need = math.hypot(max(up, line.load_max_n), line.load_side_n)
            if not right or not one.net_safe or min(timber, one.lets_go_n / 1.5) < need:
                continue
            late = 1e9 if one.shank == "smooth" and line.load_tight_n < -5.0 else 0.0
            cost = late + (1e7 if one.price is None else one.price)
            if cost < best[0]:
                best = (cost, one.id)
        assert (None if pd.isna(line.fixing) else line.fixing) == best[1]
    assert made["fixing"].notna().sum() > 100
    assert made["fixing"].isna().sum() > 20
