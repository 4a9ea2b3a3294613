"""What tests of clips and posts, and work timed, say: by hand, and what they change."""

from pathlib import Path

import pytest
from wirerun.errors import Faults
from wirerun.measurements import Learned
from wirerun.read.catalogue import read_catalogue
from wirerun.rules.apply_measured import with_measured
from wirerun.rules.clip_test import characteristic_n
from wirerun.rules.from_catalogue import take_from_catalogue
from wirerun.rules.learn_from_tests import learn_from_clip_tests, learn_from_minutes, learn_from_pull_outs
from wirerun.settings import Catalogue, Config
from wirerun.settings.measured import ClipTest, PullOutTest, TimedWork

CLIP, POST = "open clip, one staple", "pine post 80 x 2500"
PULLS = [12.0, 15.0, 11.0, 14.0, 18.0, 13.0, 12.0, 16.0, 14.0, 13.0]


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    """Return the one that comes with the program."""
    return read_catalogue(None, Path(), Faults())[0]


def config(**sections: object) -> Config:
    return Config.model_validate(
        {
            "name": "plan",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 90.0, "spacing_m": 2.4},
            **sections,
        }
    )


def clips(config: Config, catalogue: Catalogue, item: str = CLIP) -> list[Learned]:
    rows = [(line, ClipTest(item=item, pull_n=pull)) for line, pull in enumerate(PULLS, start=2)]
    return learn_from_clip_tests(rows, config, catalogue, "clip_tests.csv", Faults())


@pytest.mark.parametrize("said", [{}, {"undulation": {"hold_down_n": 5.0}}], ids=["by the catalogue", "by the config"])
def test_clips_hold_what_all_but_one_in_twenty_of_those_tested_do(
    said: dict[str, object], catalogue: Catalogue
) -> None:
    own = config(**said)
    (one,) = clips(own, catalogue)
    assert one.value == characteristic_n(PULLS)
    assert one.value == pytest.approx(10.0, abs=0.05)  # as the doctest of the rule has it
    changed, bought = with_measured(own, catalogue, [one])
    taken = take_from_catalogue(changed, bought)
    assert taken.undulation.hold_down_n == one.value
    # What the catalogue keeps of the tests holds as much as is asked of it, to the last digit.
    item = next(item for item in bought.fixings if item.id == CLIP)
    assert characteristic_n(item.tested_n) >= taken.undulation.hold_down_n


def test_the_least_of_the_clips_that_may_be_used_decides(catalogue: Catalogue) -> None:
    weak = [(2 + n, ClipTest(item="open clip, one screw", pull_n=0.5 * pull)) for n, pull in enumerate(PULLS)]
    strong = [(20 + n, ClipTest(item=CLIP, pull_n=pull)) for n, pull in enumerate(PULLS)]
    for use, wanted in (((), 0.5), ((CLIP,), 1.0)):
        own = config(fixings={"use": use})
        learned = learn_from_clip_tests([*weak, *strong], own, catalogue, "f.csv", Faults())
        changed, _ = with_measured(own, catalogue, learned)
        assert changed.undulation.hold_down_n == pytest.approx(wanted * characteristic_n(PULLS))


def test_posts_hold_the_same_fractile_and_an_explicit_setting_gives_way(catalogue: Catalogue) -> None:
    pulls = [1362.0, 1513.0, 1756.0]
    rows = [(line, PullOutTest(item=POST, pull_n=pull)) for line, pull in enumerate(pulls, start=2)]
    for said, was in (({}, 883.0), ({"posts": {"post_pull_out_n": 2000.0}}, 2000.0)):
        own = config(**said)
        (one,) = learn_from_pull_outs(rows, own, catalogue, "f.csv", Faults())
        assert one.was == was
        assert one.value == pytest.approx(characteristic_n(pulls))
        changed, bought = with_measured(own, catalogue, [one])
        assert take_from_catalogue(changed, bought).posts.pull_out_n == pytest.approx(one.value, abs=0.06)


def test_minutes_are_all_the_time_over_all_that_was_done_off_the_slope(catalogue: Catalogue) -> None:
    # By hand: 30 posts in 150 min on flat ground, 20 in 135 min at 25 %, factor 1.35, and by two people in 25 min each
    # 10: (150 + 100 + 50) / 60 = 5 minutes a post. Left over: 0, 0, 0, so it is sure.
    rows = [
        (2, TimedWork(task=POST, quantity=30.0, minutes=150.0)),
        (3, TimedWork(task=POST, quantity=20.0, minutes=135.0, slope_pct=25.0)),
        (4, TimedWork(task=POST, quantity=10.0, minutes=25.0, people=2)),
        (5, TimedWork(task="run out", quantity=500.0, minutes=10.0)),
        (6, TimedWork(task="run out", quantity=500.0, minutes=15.0)),
    ]
    post, wire = learn_from_minutes(rows, config(), catalogue, "f.csv", Faults())
    assert post.value == pytest.approx(5.0)
    assert post.sd == pytest.approx(0.0, abs=1e-9)
    # 25 minutes for 10 hundreds of metres; by hand sd = sqrt(2 / 1 * (2.5^2 + 2.5^2)) / 10 = 0.5.
    assert (wire.value, wire.sd) == pytest.approx((2.5, 0.5))
    _, bought = with_measured(config(), catalogue, [post, wire])
    assert next(item.minutes for item in bought.posts if item.id == POST) == 5.0
    assert next(rate.minutes for rate in bought.rates if rate.id == "run out") == 2.5


def test_hours_written_for_minutes_are_not_taken(catalogue: Catalogue) -> None:
    was = next(item.minutes for item in catalogue.posts if item.id == POST)
    for quantity, taken in ((10.0, True), (1200.0 / was * 1.01, False), (3.0 / was, True), (2.9 / was, False)):
        (post,) = learn_from_minutes(
            [(2, TimedWork(task=POST, quantity=quantity, minutes=60.0))], config(), catalogue, "f.csv", Faults()
        )
        assert (post.taken, post.off, bool(post.changes)) == (taken, not taken, taken)
        assert ("is it in another unit?" in post.sentence) is not taken


def test_posts_pulled_in_kilograms_are_told(catalogue: Catalogue) -> None:
    was = next(item.pull_out_n for item in catalogue.posts if item.id == POST)
    for unit, told in ((1.0, ""), (9.80665, "; in kilograms, as it seems"), (4.44822, "; in pounds, as it seems")):
        rows = [
            (2 + n, PullOutTest(item=POST, pull_n=k * was / unit)) for n, k in enumerate((1.3, 1.4, 1.5, 1.45, 1.35))
        ]
        (one,) = learn_from_pull_outs(rows, config(), catalogue, "f.csv", Faults())
        assert (told in one.sentence, one.off, one.taken) == (True, bool(told), True)


def test_a_task_timed_once_has_no_spread_and_says_so(catalogue: Catalogue) -> None:
    (post,) = learn_from_minutes(
        [(2, TimedWork(task=POST, quantity=30.0, minutes=150.0))], config(), catalogue, "f.csv", Faults()
    )
    assert (post.value, post.sd) == (5.0, None)
    assert '" takes 5 (timed once: how sure that is, nobody knows) minutes of one person' in post.sentence


def test_what_is_not_in_the_catalogue_or_too_little_is_refused(catalogue: Catalogue) -> None:
    faults = Faults()
    few = [(2, ClipTest(item=CLIP, pull_n=9.0)), (3, ClipTest(item="open clip, one staples", pull_n=9.0))]
    learn_from_clip_tests(few, config(), catalogue, "clips.csv", faults)
    both = [(4 + n, ClipTest(item="closing clip, one screw", pull_n=9.0)) for n in range(5)]
    learn_from_clip_tests(both, config(), catalogue, "clips.csv", faults)
    learn_from_pull_outs([(2, PullOutTest(item=POST, pull_n=900.0))], config(), catalogue, "posts.csv", faults)
    learn_from_minutes(
        [(2, TimedWork(task="run outt", quantity=1.0, minutes=1.0))], config(), catalogue, "m.csv", faults
    )
    assert [str(fault) for fault in faults] == [
        'clips.csv, line 3: the catalogue has no "open clip, one staples"; did you mean open clip, one staple?',
        f'clips.csv, line 2: 1 pull is too few of "{CLIP}"; 5 or more are wanted, better ten',
        'clips.csv, line 4, item: "closing clip, one screw" holds "both"; tested are one-way clips',
        f'posts.csv, line 2: 1 pull is too few on "{POST}"; 3 or more are wanted',
        'm.csv, line 2: the catalogue has no "run outt"; did you mean run out?',
    ]
