"""Work zones, by hand and against every possible cut."""

import itertools

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wirerun import tables
from wirerun.arrays import FloatArray, TextArray, is_blank, words
from wirerun.findings import Finding
from wirerun.model.zones import ZoneRows, Zones
from wirerun.result.zone_table import zone_table
from wirerun.settings import WorkSettings
from wirerun.stages.work.zones import draw_zones, sum_up, zone_ids

CLASSES = ("0-10 %", "10-20 %", "20-30 %", "30 % and over")


def row_values(slopes_pct: list[float], block: str = "B01") -> ZoneRows:
    """One row of a class by slope; the n-th is 10 n m long and has n posts."""
    slope = np.array(slopes_pct, dtype=np.float64)
    number = np.arange(1, len(slope) + 1)
    names = np.array([*CLASSES, None], dtype=object)
    return ZoneRows(
        row_id=words(f"{block}-R{n:03d}" for n in number),
        block_id=words([block] * len(slope)),
        length_m=np.array(10.0 * number, dtype=np.float64),
        slope_pct=slope,
        slope_class=names[np.where(np.isnan(slope), 4, np.searchsorted((10.0, 20.0, 30.0), slope, side="right"))],
        posts=number,
        two_way_posts=number - 1,
    )


def zones_of(
    rows: ZoneRows, hours: FloatArray | list[float], work: WorkSettings
) -> tuple[TextArray, Zones, list[Finding]]:
    """Zone of each row by id, what zones come to, and what was said."""
    each = np.array(hours, dtype=np.float64)
    zone, zone_id = draw_zones(rows, each, work)
    return zone_id[zone], *sum_up(rows, each, zone, zone_id, work)


def crew(size_h: float, *, apart: bool = False) -> WorkSettings:
    """Two people whose zones are for `size_h` hours of one person."""
    return WorkSettings(people=2, day_hours=size_h / 4.0, zone_days=2.0, keep_classes_apart=apart)


def test_six_rows_by_hand() -> None:
    """12 h and zones for 4 h: three, of 4 + 5 + 3 h. Two people who work 1 h a day do 5 h in 2.5 days."""
    hours = np.array([3.0, 1.0, 1.0, 4.0, 2.0, 1.0])
    zone, zones, findings = zones_of(row_values([5.0, 12.0, 25.0, 35.0, 12.0, np.nan]), hours, crew(4.0))
    assert zone.tolist() == ["B01-Z01", "B01-Z01", "B01-Z02", "B01-Z02", "B01-Z03", "B01-Z03"]
    assert zones.hours.tolist() == [4.0, 5.0, 3.0]
    assert zones.days.tolist() == [2.0, 2.5, 1.5]
    assert zones.people == 2
    assert zones.first_row.tolist() == ["B01-R001", "B01-R003", "B01-R005"]
    assert zones.last_row.tolist() == ["B01-R002", "B01-R004", "B01-R006"]
    assert zones.rows.tolist() == [2, 2, 2]
    assert zones.row_length_m.tolist() == [30.0, 70.0, 110.0]
    assert zones.posts.tolist() == [3, 7, 11]
    assert zones.two_way_posts.tolist() == [1, 5, 9]
    assert zones.slope_class.tolist() == ["0-10 % to 10-20 %", "20-30 % to 30 % and over", "10-20 %"]
    assert [(finding.code, finding.place) for finding in findings] == [("zones", "B01")]
    assert findings[0].message == "3 work zones of 3.0 to 5.0 h; the longest takes 1.25 times the mean."
    table = tables.conform(tables.ZONES, zone_table(zones))
    assert table["people"].tolist() == [2, 2, 2]


def test_every_block_has_zones_of_its_own() -> None:
    one, other = row_values([5.0] * 4, "B02"), row_values([5.0] * 2, "B01")
    rows = ZoneRows(*(np.concatenate([getattr(part, name) for part in (one, other)]) for name in one.__slots__))
    zone, zones, findings = zones_of(rows, np.full(6, 2.0), crew(4.0))
    assert zone.tolist() == ["B02-Z01", "B02-Z01", "B02-Z02", "B02-Z02", "B01-Z01", "B01-Z01"]
    assert zones.block_id.tolist() == ["B02", "B02", "B01"]
    assert [finding.place for finding in findings] == ["B02", "B01"]


def test_range_names_the_flattest_first_whatever_the_order_of_the_rows() -> None:
    _, zones, _ = zones_of(row_values([35.0, np.nan, 5.0, 12.0]), np.ones(4), crew(90.0))
    assert zones.slope_class.tolist() == ["0-10 % to 30 % and over"]
    _, zones, _ = zones_of(row_values([np.nan, np.nan]), np.ones(2), crew(90.0))
    assert is_blank(zones.slope_class).all()


@pytest.mark.parametrize(
    ("hours", "size_h", "count"),
    [
        ([1.0, 1.0, 1.0], 90.0, 1),
        ([9.0, 9.0, 9.0], 1.0, 3),
        ([1.5, 1.5, 2.9], 4.0, 1),
        ([1.5, 1.5, 3.1], 4.0, 2),
        ([0.0, 0.0], 4.0, 1),
    ],
)
def test_number_of_zones_is_the_nearest(hours: list[float], size_h: float, count: int) -> None:
    _, zones, findings = zones_of(row_values([5.0] * len(hours)), np.array(hours), crew(size_h))
    assert len(zones) == count
    assert len(findings) == 1


def test_ids_sort_as_they_are_numbered() -> None:
    assert zone_ids("B01", 10)[::9] == ["B01-Z01", "B01-Z10"]
    ids = zone_ids("B01", 120)
    assert ids[:2] + ids[-1:] == ["B01-Z001", "B01-Z002", "B01-Z120"]
    assert sorted(ids) == ids


def test_classes_that_alternate_make_a_zone_each_and_are_counted() -> None:
    """Eight rows in turns of two classes, the last of 1.5 h, the others of 0.5; then a run of 20 h.

    Zones are for 4 h, a crew-day is 2 h.

    The run gets the five zones that its own hours make, however many the others are.
    """
    rows = row_values([*[5.0, 15.0] * 4, *[25.0] * 10])
    hours = np.array([*[0.5] * 7, 1.5, *[2.0] * 10])
    zone, zones, findings = zones_of(rows, hours, crew(4.0, apart=True))
    assert len(zones) == 8 + 5
    assert zones.hours.tolist() == [0.5] * 7 + [1.5] + [4.0] * 5
    assert pd.Series(rows.slope_class).groupby(zone).nunique().eq(1).all()
    assert findings[0].message == (
        "13 work zones of 0.5 to 4.0 h; the longest takes 2.08 times the mean. Slope classes are kept apart: "
        "7 zones are under half a crew-day."
    )


def test_a_row_without_a_slope_goes_with_the_one_before_it() -> None:
    rows = row_values([np.nan, 5.0, np.nan, 15.0, np.nan])
    zone, zones, _ = zones_of(rows, np.ones(5), crew(90.0, apart=True))
    assert zone.tolist() == ["B01-Z01"] * 3 + ["B01-Z02"] * 2
    assert zones.slope_class.tolist() == ["0-10 %", "10-20 %"]


def all_cuts(hours: np.ndarray, parts: int, walls: set[int]) -> float:
    """Least sum of squared zone hours over all ways to cut the rows into so many runs, walls kept."""
    places = range(1, len(hours))
    least = np.inf
    for cut in itertools.combinations(places, parts - 1):
        if walls <= set(cut):
            sums = [part.sum() for part in np.split(hours, cut)]
            least = min(least, float(np.square(sums).sum()))
    return least


@settings(max_examples=150, deadline=None)
@given(data=st.data(), count=st.integers(1, 10), apart=st.booleans())
def test_zones_are_as_even_as_any_cut_can_make_them(data: st.DataObject, *, count: int, apart: bool) -> None:
    hours = np.array(data.draw(st.lists(st.integers(1, 400), min_size=count, max_size=count))) / 10.0
    slopes = data.draw(st.lists(st.sampled_from([5.0, 15.0, 35.0]), min_size=count, max_size=count))
    size_h = data.draw(st.floats(1.0, 60.0))
    rows = row_values(slopes)
    zone, zones, _ = zones_of(rows, hours, crew(size_h, apart=apart))

    walls = {n for n in range(1, count) if slopes[n] != slopes[n - 1]} if apart else set()
    runs = np.split(hours, sorted(walls))
    wanted = sum(min(len(run), max(1, int(run.sum() / size_h + 0.5))) for run in runs)
    assert len(zones) == wanted
    assert float(np.square(zones.hours).sum()) == pytest.approx(all_cuts(hours, wanted, walls), rel=1e-9)
    # Consecutive rows, every hour once.
    assert zone.tolist() == sorted(zone)
    assert zones.hours.sum() == pytest.approx(hours.sum())
    assert zones.rows.sum() == count
    if apart:
        assert pd.Series(slopes).groupby(zone).nunique().eq(1).all()


def test_days_are_those_of_the_whole_crew() -> None:
    """21 h of three people who work 7 h a day: one day."""
    work = WorkSettings(people=3, day_hours=7.0, zone_days=4.0)
    _, zones, _ = zones_of(row_values([5.0, 5.0]), [12.0, 9.0], work)
    assert zones.hours.tolist() == [21.0]
    assert zones.days.tolist() == [1.0]
