"""Ways to plant, tried and judged: each is what a plan of it says, and what will not do is told in a sentence."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest
from wirerun.api import Plan, load_config, plan_config, study
from wirerun.errors import Exit, InputError
from wirerun.settings import Config

if TYPE_CHECKING:
    from tests.conftest import Corners, Estate

ROOT = Path(__file__).parents[2]
BLOCK: "Corners" = [(-60.0, -8.0), (10.0, -12.0), (15.0, 6.0), (-55.0, 7.0)]
SECOND: "Corners" = [(20.0, -15.0), (52.0, -13.0), (50.0, 15.0), (20.0, 12.0)]


def with_study(config: Config, **settings: Any) -> Config:  # noqa: ANN401 - any setting
    """Return the config with a study, checked as a file is."""
    written = config.model_dump() | {"study": settings}
    return Config.model_validate(written, context={"file": "estate.toml", "folder": config.folder})


def line_of(made: Plan) -> dict[str, float]:
    """Return what a plan's own tables say of its measures."""
    spans = made.spans[made.spans["wire_id"] == made.spans["wire_id"].iloc[0]]
    grade, metres = spans["grade_pct"].abs().to_numpy(), spans["horizontal_m"].to_numpy()
    order = np.argsort(grade)
    reached = np.cumsum(metres[order]) / metres.sum()
    cross = made.posts["cross_slope_pct"].abs()
    lines = made.wires.merge(made.rows[["row_id", "block_id"]], on="row_id")
    return {
        "rows": len(made.rows),
        "row_length_m": made.rows["length_m"].sum(),
        "posts": len(made.posts),
        "two_way_posts": made.rows["two_way_posts"].sum(),
        "adjusters": len(made.adjusters),
        "wire_m": lines["run_out_m"].sum(),
        "grade_mean_pct": np.average(grade, weights=metres),
        "grade_p95_pct": grade[order][np.searchsorted(reached, 0.95)],
        "grade_max_pct": made.rows["max_grade_pct"].max(),
        "cross_slope_p95_pct": np.sort(cross)[int(np.ceil(0.95 * len(cross))) - 1],
        "cost": made.costs.loc[made.costs["part"] == "sum", "total"].iloc[0],
        "end_posts": (made.posts["kind"] == "end").sum(),
        "look_posts": (made.posts["clip_need"] == "look-on-site").sum(),
        "hours": made.zones["hours"].sum(),
        "warnings": made.findings["level"].isin(["warning", "error"]).sum(),
    }


def test_the_line_of_a_direction_is_what_a_plan_of_it_says(make_estate: Callable[..., "Estate"]) -> None:
    config = make_estate(B01=BLOCK).config()
    made = study(with_study(config, vary={"rows.bearing_deg": [78.0]}))
    assert made.cases["case"].tolist() == ["C000", "C001"]
    assert made.cases["rows.bearing_deg"].tolist() == ["90.0", "78.0"]
    turned = config.model_copy(update={"rows": config.rows.model_copy(update={"bearing_deg": 78.0})})
    for at, setting in enumerate([config, turned]):
        alone = plan_config(setting)
        expected = line_of(alone)
        assert made.cases.loc[at, list(expected)].astype(float).to_dict() == pytest.approx(expected, rel=1e-9)
    rows, planned = made.rows[made.rows["case"] == "C001"].set_index("row_id"), alone.rows.set_index("row_id")
    assert rows["length_m"].sum() == pytest.approx(made.cases.loc[1, "row_length_m"])
    for name, column in (("grade_mean_pct", "mean_grade_pct"), ("run_m", "run_m"), ("run_grade_pct", "run_grade_pct")):
        assert planned[column].to_dict() == pytest.approx(rows[name].to_dict())


def test_old_posts_of_several_heights_lay_out_as_they_are_planned() -> None:
    """Where old posts are too short to lift a wire on, its row takes other adjusters than on new posts."""
    config = load_config(ROOT / "configs" / "encosta_nova_retrofit.toml")
    made = study(with_study(config, vary={"wires.lower.tension_n": [320.0]}, whole="none"))
    expected = line_of(plan_config(config))
    names = ["rows", "posts", "adjusters", "wire_m"]
    laid = made.cases.loc[0, names].astype(float).to_dict()
    assert laid == pytest.approx({name: expected[name] for name in names}, rel=1e-9)


def test_a_case_that_cannot_be_laid_out_costs_itself_alone(make_estate: Callable[..., "Estate"]) -> None:
    config = make_estate(B01=BLOCK).config()
    vary = {"block.boundary": ["block.geojson", "none.geojson"]}
    made = study(with_study(config, vary=vary, whole="none")).cases
    metres, failed = made["row_length_m"].to_numpy(), made["failed"].fillna("").tolist()
    assert metres[0] == metres[1] > 0.0
    assert np.isnan(metres[2])
    assert failed[:2] == ["", ""]
    assert "none.geojson: there is no such file" in failed[2]
    assert made["wire_m"].isna().tolist() == made["front"].isna().tolist() == [False, False, True]


def test_a_value_holds_for_all_blocks_or_one_is_looked_at(make_estate: Callable[..., "Estate"]) -> None:
    estate = make_estate(B01=BLOCK, B02=SECOND)
    own = estate.config(blocks={"B02": {"rows": {"bearing_deg": 20.0}}})
    made = study(with_study(own, vary={"rows.bearing_deg": [90.0]}, whole="none")).cases
    alone = study(with_study(own, vary={"rows.bearing_deg": [90.0]}, whole="none", block="B02")).cases
    plain = study(with_study(estate.config(), vary={"rows.bearing_deg": [90.0]}, whole="none")).cases
    (as_it_is, turned), (bare, _), (_, one) = (cases["row_length_m"].tolist() for cases in (made, plain, alone))
    assert turned == bare != as_it_is
    assert 0.0 < one < turned


def test_two_settings_by_grid_and_one_at_a_time(make_estate: Callable[..., "Estate"]) -> None:
    config = make_estate(B01=BLOCK).config()
    vary = {"rows.spacing_m": [3.0, 5.0], "wires.lower.tension_n": [200.0, 400.0]}
    grid = study(with_study(config, vary=vary, whole="none")).cases
    assert len(grid) == 5
    assert grid[["rows.spacing_m", "wires.lower.tension_n"]].iloc[1:].to_numpy().tolist() == [
        ["3.0", "200.0"],
        ["3.0", "400.0"],
        ["5.0", "200.0"],
        ["5.0", "400.0"],
    ]
    one = study(with_study(config, vary=vary, whole="none", by="one")).cases
    assert one["rows.spacing_m"].tolist() == ["4.0", "3.0", "5.0", "4.0", "4.0"]
    assert one["wires.lower.tension_n"].tolist()[3:] == ["200.0", "400.0"]
    assert one["rows"].is_monotonic_decreasing is False
    # A tighter wire changes no row; rows nearer to each other are more.
    assert grid["rows"].tolist()[1:] == [grid["rows"][1]] * 2 + [grid["rows"][3]] * 2
    assert grid["rows"][1] > grid["rows"][0] > grid["rows"][3]
    assert grid["cost"].isna().all()
    assert (grid["whole"] == "no").all()


def test_limits_rule_out_and_are_not_planned(make_estate: Callable[..., "Estate"]) -> None:
    config = make_estate(B01=BLOCK).config()
    made = study(
        with_study(
            config,
            from_deg=60.0,
            to_deg=90.0,
            step_deg=30.0,
            whole="allowed",
            measures=["posts", "grade_p95_pct"],
            limits={"mean_row_m": 40.0},
        )
    ).cases
    assert made["rows.bearing_deg"].tolist() == ["90.0", "60.0", "90.0"]
    # Aslant the block rows are shorter.
    assert made["ruled_out"].fillna("").str.startswith("mean_row_m ").tolist() == [False, True, False]
    assert made["whole"].tolist() == ["yes", "no", "yes"]
    assert made["front"].fillna("").tolist() == ["yes", "", "yes"]  # the config's own direction is among them
    assert made["cost"].notna().tolist() == [True, False, True]
    assert made["cost"].iloc[0] == made["cost"].iloc[2]


def test_directions_of_the_edges(make_estate: Callable[..., "Estate"]) -> None:
    config = make_estate(B01=BLOCK).config()
    made = study(with_study(config, directions="edges", whole="none", least_edge_m=18.0)).cases
    found = sorted(made["rows.bearing_deg"].iloc[1:].astype(float))
    corners = np.array([*BLOCK, BLOCK[0]])
    east, north = np.diff(corners, axis=0).T
    long = np.hypot(east, north) >= 18.0
    expected = sorted(np.degrees(np.arctan2(east, north))[long] % 180.0)
    assert found == pytest.approx(expected, abs=0.1)


def test_the_command_writes_a_page_and_two_tables(make_estate: Callable[..., "Estate"]) -> None:
    estate = make_estate(B01=BLOCK)
    out = estate.folder / "made"
    more = '[study]\nstep_deg = 60.0\nwhole = "none"\nmeasures = ["cost", "posts"]\n'
    done = estate.command("study", "--out", str(out), "--workers", "2", more=more)
    assert done.exit_code == Exit.GOOD, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert done.stdout.startswith("3 cases beside C000, the config as it stands; 0 cases planned whole\n")
    # What no case has counts for nothing, and is said; the others are judged by the rest.
    assert "Known of no case that is left, so not counted: cost\nPlan cases whole to know" in done.stdout
    assert "No case is better than these in all of posts; C000 to compare:" in done.stdout
    cases = pd.read_csv(out / "study.csv", encoding="utf-8-sig")
    assert list(cases)[:12] == [
        "rows.bearing_deg",
        "rows",
        "row_length_m",
        "posts",
        "two_way_posts",
        "adjusters",
        "wire_m",
        "grade_mean_pct",
        "grade_p95_pct",
        "grade_max_pct",
        "cross_slope_p95_pct",
        "cost",
    ]
    assert cases["rows.bearing_deg"].tolist() == [90.0, 0.0, 60.0, 120.0]
    assert {path.name for path in out.iterdir()} == {
        "data_dictionary.md",
        "run.json",
        "study.csv",
        "study_rows.csv",
        "study.html",
    }
    # The same by one process, and not over an earlier study.
    again = estate.command("study", "--out", str(out), more=more)
    assert again.exit_code == Exit.USAGE
    first = (out / "study.csv").read_bytes()
    assert estate.command("study", "--out", str(out), "--overwrite", "--workers", "1", more=more).exit_code == 0
    assert (out / "study.csv").read_bytes() == first


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ('measures = ["costs"]', 'study.measures: "costs" is no measure; did you mean cost?'),
        ("limits = { grade_pct = 10.0 }", 'study.limits: "grade_pct" is no measure; did you mean grade_p95_pct?'),
        ('directions = "guide"', 'study.directions: "guide" needs a line: rows.guide is missing'),
        ('block = "B07"', 'study.block: "B07" is no block; there are B01'),
        ("from_deg = 90.0\nto_deg = 10.0", "study.from_deg: 90 is above to_deg = 10"),
        ("most_cases = 10", "study: 180 cases are more than study.most_cases = 10; give fewer values"),
        ('vary = { "rows.spacin_m" = [2.0] }', "study.vary, rows.spacin_m: unknown setting; did you mean spacing_m?"),
        (
            'vary = { "rows.spacing_m" = [2.0, 30.0] }',
            "study.vary, rows.spacing_m: 30.0 is above the greatest value 20",
        ),
        (
            'vary = { "wires.top.tension_n" = [2.0] }',
            "study.vary.wires.top.tension_n: there is no such wire",
        ),
        ('vary = { "posts.align" = [] }', "study.vary.posts.align: the list is empty; give at least one value"),
        ('rules = "none.csv"', "none.csv: there is no such file"),
    ],
)
def test_what_will_not_do_is_told(more: str, sentence: str, make_estate: Callable[..., "Estate"]) -> None:
    estate = make_estate(B01=BLOCK)
    done = estate.command("study", "--out", str(estate.folder / "made"), more=f"[study]\n{more}\n")
    assert done.exit_code == Exit.BAD_INPUT, done.output
    assert sentence in done.stderr.replace("\n", " ")
    assert not (estate.folder / "made").exists()


def test_the_example_rules_are_read(make_estate: Callable[..., "Estate"]) -> None:
    config = load_config(ROOT / "configs" / "encosta_nova_study.toml")
    rules = ROOT / "configs" / "row_grade_rules.csv"
    estate = make_estate(B01=BLOCK)
    (estate.folder / "rules.csv").write_bytes(rules.read_bytes())
    made = study(with_study(estate.config(), rules="rules.csv", whole="none", step_deg=90.0))
    assert [rule.id for rule in made.rules] == ["half-slope", "bare-4", "cover-10", "drains"]
    four = made.rows[made.rows["grade_mean_pct"] > 4.0]
    assert len(four)
    assert four["breaks"].str.contains("bare-4").all()
    assert made.cases["rule_bare-4"].sum() == len(four)
    assert config.study.rules == "row_grade_rules.csv"


def test_a_bad_rule_is_told(make_estate: Callable[..., "Estate"]) -> None:
    estate = make_estate(B01=BLOCK)
    (estate.folder / "rules.csv").write_text("id,most_pct,source,date\nsteep,ten,a book,2026-11-29\n")
    with pytest.raises(InputError, match=r"rules\.csv, line 2, most_pct: .* is no number"):
        study(with_study(estate.config(), rules="rules.csv", whole="none"))
