"""Posts as built against a plan, by the command: what was moved, left out or added on purpose is found, and no more."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest
from click.testing import CliRunner, Result
from wirerun.cli import main
from wirerun.errors import Exit
from wirerun.mechanics.chain import solve_chain
from wirerun.mechanics.supports import Supports
from wirerun.model.clips import Need
from wirerun.model.layout import Posts
from wirerun.rules.wire import wire_of
from wirerun.stages.compare.built_clips import changed_clips

if TYPE_CHECKING:
    from tests.conftest import Corners, Estate

BLOCK: "Corners" = [(-60.0, -8.0), (10.0, -12.0), (15.0, 6.0), (-55.0, 7.0)]
# Of the surveyed heights: another datum.
SHIFT_M = 51.25


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return where the plan of the module lies, once one is made."""
    return {"folder": tmp_path_factory.mktemp("plan")}


@pytest.fixture
def plan(planned: dict[str, Path], make_estate: Callable[..., "Estate"]) -> Path:
    """Return a plan of one block on waves."""
    if "made" not in planned:
        estate = make_estate(B01=BLOCK)
        done = estate.command("plan", "--only", "schedule", "--quiet")
        assert done.exit_code == Exit.GOOD, done.stderr
        (estate.folder / "out").rename(planned["folder"] / "out")
        planned["made"] = planned["folder"] / "out"
    return planned["made"]


def posts_of(plan: Path) -> pd.DataFrame:
    posts = pd.read_csv(plan / "schedule" / "posts.csv", encoding="utf-8-sig")
    return posts.assign(height_m=posts["ground_m"] + SHIFT_M)


def survey(plan: Path, posts: pd.DataFrame, folder: Path) -> Result:
    posts[["post_id", "lon", "lat", "height_m"]].to_csv(folder / "survey.csv", index=False)
    words = ["compare", str(plan), str(folder / "survey.csv"), "--strict", "--out", str(folder / "built")]
    return CliRunner().invoke(main, words)


def table(folder: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / "built" / f"{name}.csv", encoding="utf-8-sig")


def test_posts_that_stand_as_planned(plan: Path, tmp_path: Path) -> None:
    done = survey(plan, posts_of(plan), tmp_path)
    # Clips near the limit may be judged otherwise: surveyed posts have another error than a raster.
    marks = table(tmp_path, "built_posts")
    assert (marks["mark"] == "stands").all()
    assert marks[["along_m", "across_m", "height_m"]].abs().to_numpy().max() < 2e-3
    assert table(tmp_path, "built_spans").empty
    assert "surveyed heights lie +51.25 m off the plan's" in done.stdout
    clips = table(tmp_path, "built_clips")
    assert clips["load_n"].to_numpy() == pytest.approx(clips["planned_load_n"].to_numpy(), abs=0.3)


def test_clips_count_where_they_were_planned_to_be_set(
    make_estate: Callable[..., "Estate"], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Loads over the posts as surveyed, against chains over ground, height and shift as the plan's tables have them."""
    estate = make_estate(B01=BLOCK)
    done = estate.command("plan", "--only", "schedule", "--quiet", more="[clips]\nlevel_m = 0.1\n")
    assert done.exit_code == Exit.GOOD, done.stderr
    posts = posts_of(estate.folder / "out")
    assert (posts["clip_shift_m"].abs() > 0.02).any()
    judged: dict[str, Any] = {}

    def listen(posts: Posts, need: Need, *more: Any) -> pd.DataFrame:  # noqa: ANN401 - handed on as they come
        judged.update(posts=posts, need=need)
        return changed_clips(posts, need, *more)

    monkeypatch.setattr("wirerun.as_built.changed_clips", listen)
    assert survey(estate.folder / "out", posts, tmp_path).exception is None
    own = posts.set_index("post_id").loc[judged["posts"].post_id]
    assert judged["posts"].clip_shift_m == pytest.approx(own["clip_shift_m"].to_numpy())
    clips = pd.read_csv(estate.folder / "out" / "schedule" / "clips.csv", encoding="utf-8-sig")
    config = estate.config(clips={"level_m": 0.1})
    for number, wire in enumerate(config.wires):
        if wire.holder != "clip":
            continue
        planned = clips[clips["wire_id"] == wire.id].set_index("post_id")["load_min_n"]
        found = pd.Series(judged["need"].least_n[number], index=own.index).dropna()
        assert found.to_numpy() == pytest.approx(planned.loc[found.index].to_numpy(), abs=0.3)
        chain, level = (
            solve_chain(
                Supports(judged["posts"].along_m, own["ground_m"].to_numpy() + wire.height_m + up, judged["posts"].row),
                wire_of(wire),
                wire.tension_n,
            ).clip_load_n
            for up in (own["clip_shift_m"].to_numpy(), 0.0)
        )
        strung = clips[clips["wire_id"] == wire.id].set_index("post_id")["load_strung_n"].reindex(own.index)
        known = strung.notna().to_numpy()
        assert chain[known] == pytest.approx(strung[known].to_numpy(), abs=0.1)
        assert abs(chain - level)[known].max() > 3.0


def test_what_was_done_otherwise_is_found(plan: Path, tmp_path: Path) -> None:
    posts = posts_of(plan)
    row = posts["row_id"].value_counts().index[0]
    mine = posts[posts["row_id"] == row]
    at = {number: mine.index[number] for number in range(len(mine))}
    posts.loc[at[2], "lon"] += 0.4 / 83_900.0  # the rows run east
    posts.loc[at[4], "height_m"] -= 0.5  # into a pit: its wires pull up
    extra = posts.loc[[at[5]]].assign(post_id="new", lon=posts.loc[[at[5], at[6]], "lon"].mean())
    built = pd.concat([posts.drop(index=at[8]), extra])
    done = survey(plan, built, tmp_path)
    assert done.exit_code == Exit.FINDINGS
    marks = table(tmp_path, "built_posts").set_index("post_id")
    assert marks["mark"].value_counts().to_dict() == {
        "stands": len(posts) - 2,
        "moved": 1,
        "missing": 1,
        "extra": 1,
    }
    moved = marks.loc[posts.loc[at[2], "post_id"]]
    assert (moved["mark"], moved["along_m"], moved["across_m"]) == (
        "moved",
        pytest.approx(0.4, abs=0.01),
        pytest.approx(0.0, abs=0.01),
    )
    assert marks.loc[posts.loc[at[4], "post_id"], "height_m"] == pytest.approx(-0.5, abs=2e-3)
    assert marks.loc[posts.loc[at[8], "post_id"], "mark"] == "missing"
    assert marks.loc[marks["mark"] == "extra", "row_id"].tolist() == [row]
    spans = table(tmp_path, "built_spans")
    gap = [posts.loc[at[7], "post_id"], posts.loc[at[9], "post_id"]]
    assert gap in spans[["from_post", "to_post"]].to_numpy().tolist()
    clips = table(tmp_path, "built_clips").set_index("post_id")
    pit = posts.loc[at[4]]
    if pit["clip_need"] != "two-way":
        assert set(clips.loc[[pit["post_id"]], "change"]) == {"needs two-way"}
        assert (clips.loc[[pit["post_id"]], "load_n"] < -20.0).all()
    record = json.loads((tmp_path / "built" / "run.json").read_bytes())
    assert record["equal"] is False
    assert record["posts"]["missing"] == 1


def test_without_heights_no_clip_is_judged(plan: Path, tmp_path: Path) -> None:
    done = survey(plan, posts_of(plan).assign(height_m=""), tmp_path)
    assert "not judged: a surveyed height is missing" in done.stdout
    assert table(tmp_path, "built_clips").empty


def test_a_survey_that_cannot_be_read(plan: Path, tmp_path: Path) -> None:
    (tmp_path / "survey.csv").write_text("a,b\n1,2\n")
    done = CliRunner().invoke(main, ["compare", str(plan), str(tmp_path / "survey.csv"), "--out", str(tmp_path / "x")])
    assert done.exit_code == Exit.BAD_INPUT
    assert "survey.csv" in done.stderr
    assert not (tmp_path / "x").exists()


def test_a_survey_of_another_place_is_refused(plan: Path, tmp_path: Path) -> None:
    posts = posts_of(plan)
    far = survey(plan, posts.assign(lat=posts["lat"] + 0.01), tmp_path)
    assert far.exit_code == Exit.BAD_INPUT
    # A hundredth of a degree of latitude is 1111 m at 41 degrees north (WGS 84, from memory 110.57 to 111.69 km each).
    told = f"none of its {len(posts)} posts stands near a row of the plan; in the mean they lie 1_111 m from the plan's"
    assert told in far.stderr.replace("\N{NARROW NO-BREAK SPACE}", "_")
    swapped = survey(plan, posts.rename(columns={"lon": "lat", "lat": "lon"}), tmp_path)
    assert "longitude and latitude look swapped" in swapped.stderr
    assert not (tmp_path / "built").exists()


def test_heights_to_the_metre_judge_no_clip(plan: Path, tmp_path: Path) -> None:
    posts = posts_of(plan)
    done = survey(plan, posts.assign(height_m=posts["height_m"].round()), tmp_path)
    assert done.exit_code == Exit.GOOD
    assert "surveyed heights are rounded to 1 m: too coarse to judge a clip by" in done.stdout + done.stderr
    assert "of the clips that could be judged none is otherwise" in done.stdout + done.stderr
    assert json.loads((tmp_path / "built" / "run.json").read_text())["heights_rounded_to_m"] == 1.0
    assert table(tmp_path, "built_clips").empty


def test_a_post_that_was_measured_twice_stands_once(plan: Path, tmp_path: Path) -> None:
    posts = posts_of(plan)
    done = survey(plan, pd.concat([posts, posts.iloc[3:5]]), tmp_path)
    assert done.exit_code == Exit.GOOD
    assert "2 measured a second time" in done.stdout + done.stderr
    assert (table(tmp_path, "built_posts")["mark"] == "again").sum() == 2
