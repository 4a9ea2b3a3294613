"""A block is edited and planned again: with rows.keep_ids its rows keep their ids, and the work still goes by place."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest
import shapely
from wirerun import Plan, load_config, plan_config
from wirerun.geometry.places import LonLat, PlaneXY
from wirerun.write.cards.facts import take_apart

if TYPE_CHECKING:
    from tests.conftest import Corners, Estate

# Rows run east, 4 m apart, and count from the north: the left as one looks along them.
WHOLE = [(-50.0, -15.0), (50.0, -15.0), (50.0, 18.0), (-50.0, 18.0)]
# The north-west corner cut off, a strip added in the south, one in the north-east.
EDITED = [(-50.0, -19.0), (50.0, -19.0), (50.0, 22.0), (20.0, 22.0), (20.0, 18.0), (-20.0, 18.0), (-50.0, 4.0)]
PARTS = ("--only", "schedule")


def table(folder: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / "schedule" / f"{name}.csv", encoding="utf-8-sig", dtype={"zone_id": "str"})


def by_place(rows: pd.DataFrame, estate: Any) -> dict[int, str]:  # noqa: ANN401 - an estate
    """Return the rows by the northing of their lines, to the decimetre."""
    at = estate.scene.frame.to_plane(LonLat(rows["start_lon"].to_numpy(), rows["start_lat"].to_numpy()))
    return dict(zip(np.rint(10.0 * at.y_m).astype(int).tolist(), rows["row_id"], strict=True))


def redraw(estate: Any, corners: "Corners") -> None:  # noqa: ANN401 - an estate
    estate.scene.write_outline(corners)


@pytest.fixture
def edited(make_estate: Callable[..., "Estate"]) -> "Estate":
    """Return an estate that was planned, and then redrawn."""
    estate = make_estate(B01=WHOLE)
    assert estate.command("plan", *PARTS).exit_code == 0
    estate.before = by_place(table(estate.folder / "out", "rows"), estate)  # type: ignore[attr-defined]
    redraw(estate, EDITED)
    return estate


def test_ids_stay_through_an_edit_and_move_without_it(edited: Any) -> None:  # noqa: ANN401 - an estate
    """The plan is made over the one whose ids it keeps: that is read before it is replaced."""
    old = edited.before
    assert list(old.values()) == [f"B01-R{number:03d}" for number in range(1, len(old) + 1)]
    done = edited.command("plan", *PARTS, more='keep_ids = "out"\n')
    assert done.exit_code == 0, done.stderr
    rows = table(edited.folder / "out", "rows")
    now = by_place(rows, edited)
    assert len(set(now) & set(old)) == len(old)
    assert {place: now[place] for place in old} == old
    # One more line in the south; the strip in the north carries one as well, and comes first by place.
    new = [now[place] for place in sorted(set(now) - set(old), reverse=True)]
    assert new == [f"B01-R{len(old) + 1:03d}", f"B01-R{len(old) + 2:03d}"]
    assert rows["row_id"].tolist() == [new[0], *old.values(), new[1]]
    assert rows["position"].tolist() == list(range(1, len(rows) + 1))
    ids = table(edited.folder / "out", "row_ids").set_index("row_id")
    assert set(ids.index[ids["origin"] == "kept"]) == set(old.values())
    assert set(ids.index[ids["origin"] == "new"]) == set(new)
    # Stored to 1 cm, thinned to 4.
    assert ids.loc[list(old.values()), "moved_m"].max() < 0.02
    (told,) = table(edited.folder / "out", "findings").set_index("code").loc[["ids-kept"], "message"]
    assert told.startswith(f"{len(old)} rows keep the id of out, 2 new ({', '.join(new)}), 0 gone; ")
    posts = table(edited.folder / "out", "posts")
    assert set(posts["post_id"].str.rsplit("-P", n=1).str[0]) == set(rows["row_id"])
    inputs = json.loads((edited.folder / "out" / "run.json").read_text())["inputs"]
    assert ("earlier plan", "out/schedule/row_ids.csv") in [(one["role"], one["path"]) for one in inputs]
    # Without it the same rows have other numbers.
    assert edited.command("plan", *PARTS).exit_code == 0
    plain = by_place(table(edited.folder / "out", "rows"), edited)
    assert list(plain.values()) == [f"B01-R{number:03d}" for number in range(1, len(plain) + 1)]
    assert all(plain[place] != row for place, row in old.items())


def test_an_edit_undone_gives_every_row_its_id_again(edited: Any) -> None:  # noqa: ANN401 - an estate
    """A row that is gone keeps its number to itself through any number of plans, and has it when it comes back."""
    half = [(-50.0, -15.0), (50.0, -15.0), (50.0, 2.0), (-50.0, 2.0)]
    for corners in (half, [(x, y - 6.0) for x, y in half]):
        redraw(edited, corners)
        assert edited.command("plan", *PARTS, more='keep_ids = "out"\n').exit_code == 0
    ids = table(edited.folder / "out", "row_ids")
    gone = ids.loc[ids["origin"] == "gone", "row_id"]
    assert set(gone) < set(edited.before.values())
    assert len(gone) >= 4
    new = set(ids.loc[ids["origin"] == "new", "row_id"])
    assert new
    assert not new & set(edited.before.values())
    redraw(edited, WHOLE)
    assert edited.command("plan", *PARTS, more='keep_ids = "out"\n').exit_code == 0
    assert by_place(table(edited.folder / "out", "rows"), edited) == edited.before
    ids = table(edited.folder / "out", "row_ids")
    assert new <= set(ids.loc[ids["origin"] == "gone", "row_id"])
    # Again, with nothing changed: the same bytes but for the distance moved.
    first = (edited.folder / "out" / "schedule" / "rows.csv").read_bytes()
    assert edited.command("plan", *PARTS, more='keep_ids = "out"\n').exit_code == 0
    assert (edited.folder / "out" / "schedule" / "rows.csv").read_bytes() == first


def test_zones_and_cards_go_by_place_not_by_number(edited: Any) -> None:  # noqa: ANN401 - an estate
    """Several zones: a new row in the north is in the first of them, not with the last numbers."""
    small = 'keep_ids = "out"\n[work]\npeople = 1\nday_hours = 7.0\n'
    assert edited.command("plan", *PARTS, more=small).exit_code == 0
    rows, zones = table(edited.folder / "out", "rows"), table(edited.folder / "out", "zones")
    assert len(zones) >= 2
    north = edited.scene.frame.to_plane(LonLat(rows["start_lon"].to_numpy(), rows["start_lat"].to_numpy())).y_m
    # From zone to zone one goes south, and no zone reaches into another.
    assert (np.diff(north) < -3.9).all()
    assert rows["zone_id"].is_monotonic_increasing
    first, last = rows.groupby("zone_id")["row_id"].first(), rows.groupby("zone_id")["row_id"].last()
    assert zones.set_index("zone_id")["first_row"].to_dict() == first.to_dict()
    assert zones.set_index("zone_id")["last_row"].to_dict() == last.to_dict()
    # The strip in the north has a higher number than the row beside it, and comes before it all the same.
    assert rows["row_id"].head(2).tolist() == ["B01-R009", "B01-R001"]
    assert zones["first_row"].iloc[0] == "B01-R009"
    # The first coil is begun in the strip.
    assert table(edited.folder / "out", "coils")["row_id"].iloc[0] == "B01-R009"
    # The plan was made over the one whose ids it keeps; made once more from there, for the cards.
    zoned = take_apart(plan_config(load_config(edited.folder / "estate.toml")))
    assert [card.row["row_id"] for zone in zoned for card in zone.rows] == rows["row_id"].tolist()


def test_rows_left_out_keep_their_ids_too(make_estate: Callable[..., "Estate"]) -> None:
    """A row over ground that is not known is in no table but row_ids; once the ground is mended, its id is its own."""
    estate: Any = make_estate(B01=WHOLE)

    def holed(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        ground = 300.0 + 0.08 * x - 0.03 * y + 0.35 * np.sin(x / 4.0)
        return np.where((np.abs(x) < 6.0) & (np.abs(y - 4.0) < 2.0), -9999.0, ground)

    estate.scene.write_raster(holed, 90.0)
    assert estate.command("plan", *PARTS).exit_code == 0
    (lost,) = table(estate.folder / "out", "left_out")["row_id"]
    assert lost not in set(table(estate.folder / "out", "rows")["row_id"])
    assert lost in set(table(estate.folder / "out", "row_ids")["row_id"])
    estate.scene.write_raster(lambda x, y: np.maximum(holed(x, y), 300.0), 90.0)
    redraw(estate, EDITED)
    assert estate.command("plan", *PARTS, more='keep_ids = "out"\n').exit_code == 0
    rows = table(estate.folder / "out", "rows").set_index("row_id")
    at = estate.scene.frame.to_plane(LonLat(rows["start_lon"].to_numpy(), rows["start_lat"].to_numpy()))
    place = dict(zip(rows.index, at.y_m, strict=True))
    assert place[lost] == pytest.approx(4.0, abs=2.0)


def test_the_rows_of_a_guide_keep_their_ids(make_scene: Callable[..., Any]) -> None:
    """Curves: a longer guide, drawn on from the same line, and a wider block; from the right, for once."""
    box: Corners = [(-60.0, -25.0), (60.0, -25.0), (60.0, 25.0), (-60.0, 25.0)]
    scene = make_scene(lambda x, y: 300.0 + 0.1 * x - 0.05 * y, [(-90.0, -60.0), (90.0, 60.0)])
    along = np.linspace(-80.0, 80.0, 120)
    bent = guide_file(scene, along)
    scene.write_outline(box)
    (scene.folder / "guide.geojson").write_text(bent)
    rules = {"layout": "follow", "guide": "guide.geojson", "spacing_m": 2.5, "first_row": "right"}
    before = plan_config(scene.config(rows=rules))
    before.write(scene.folder / "old", only=["schedule"])
    assert before.rows["row_id"].iloc[0] == "B01-R001"
    scene.write_outline([(-60.0, -33.0), (60.0, -25.0), (60.0, 25.0), (-40.0, 25.0)])
    after = plan_config(scene.config(rows={**rules, "keep_ids": "old"}))
    lines = {name: in_plane(plan, scene) for name, plan in (("before", before), ("after", after))}
    assert set(before.rows["row_id"]) & set(after.rows["row_id"])
    for row, line in lines["after"].items():
        near = [
            one
            for one, other in lines["before"].items()
            if line.interpolate(0.5, normalized=True).distance(other) < 1.2
        ]
        assert near == ([row] if row in lines["before"] else [])
    kept = after.row_ids[after.row_ids["origin"] == "kept"]
    assert kept["moved_m"].max() < 0.06


def guide_file(scene: Any, along: np.ndarray) -> str:  # noqa: ANN401 - a scene
    lonlat = scene.frame.to_lonlat(PlaneXY(along, 6.0 * np.sin(along / 30.0))).stacked().tolist()
    shape = {"type": "LineString", "coordinates": lonlat}
    feature = {"type": "Feature", "properties": {}, "geometry": shape}
    return json.dumps({"type": "FeatureCollection", "features": [feature]})


def in_plane(plan: Plan, scene: Any) -> dict[str, shapely.LineString]:  # noqa: ANN401 - a scene
    flat = shapely.transform(plan.rows.geometry.to_numpy(), lambda c: scene.frame.to_plane(LonLat.of(c)).stacked())
    return dict(zip(plan.rows["row_id"], flat, strict=True))
