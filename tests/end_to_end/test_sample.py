"""The sample estate as a user runs it: the command in a process of its own, then the files."""

import csv
import hashlib
import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from wirerun import load_config, plan_config

ROOT = Path(__file__).parents[2]
CONFIG = ROOT / "configs" / "encosta_nova.toml"


def wirerun(*words: str | Path, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "wirerun", *map(str, words)]
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False)  # noqa: S603 - our own words


def fingerprints(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """Return the folder of the plan, and what the terminal said."""
    folder = tmp_path_factory.mktemp("sample") / "encosta-nova"
    done = wirerun("plan", CONFIG, "--out", folder)
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""
    assert "two-way clips" in done.stderr
    assert str(folder / "map.html") in done.stderr.replace("\n", "")
    return folder, done.stderr


@pytest.fixture(scope="module")
def result(planned: tuple[Path, str]) -> Path:
    return planned[0]


def fenced(language: str) -> list[str]:
    """Return the lines of the one block of the README in a language."""
    (block,) = re.findall(rf"```{language}\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL)
    return str(block).splitlines()


def test_the_readme_shows_what_the_terminal_says(planned: tuple[Path, str]) -> None:
    said = {" ".join(line.split()) for line in planned[1].splitlines()}
    shown = [" ".join(line.split()) for line in fenced("text")]
    assert len(shown) >= 5
    assert [line for line in shown if line not in said] == []


def test_the_readme_shows_lines_of_the_clips(result: Path) -> None:
    with (result / "schedule" / "clips.csv").open(encoding="utf-8-sig", newline="") as stream:
        clips = {(line["post_id"], line["wire_id"]): line for line in csv.DictReader(stream)}
    shown = list(csv.DictReader(fenced("csv")))
    assert len(shown) == 3
    for line in shown:
        whole = clips[line["post_id"], line["wire_id"]]
        assert line == {name: whole[name] for name in line}


def test_the_papers_tell_the_samples_numbers(result: Path) -> None:
    """Counts in the running text of README and reference."""
    options = pd.read_csv(result / "schedule" / "hold_down_options.csv", encoding="utf-8-sig")
    by_pull = options.groupby("hold_down_n")["two_way_posts"].sum()
    words = f"{by_pull[0]} posts with two-way clips at 0 N, {by_pull[5]} at 5, {by_pull[10]} at 10, {by_pull[20]} at 20"
    assert words in (ROOT / "pipeline" / "REFERENCE.md").read_text("utf-8")
    counts = json.loads((result / "run.json").read_text("utf-8"))["counts"]
    readme = (ROOT / "README.md").read_text("utf-8")
    assert f"about {round(counts['posts'], -2)} posts" in readme
    assert f"the config's 62 degrees ({round(counts['cost'], -3):,.0f})".replace(",", " ") in readme


def test_every_promised_file_is_there(result: Path) -> None:
    tables = (
        *("rows", "posts", "spans", "clips", "sections", "wires", "lifts", "let_down", "adjusters"),
        *("tension_check", "hold_down_options"),
        *("materials", "zone_materials", "spare_parts", "coils", "zones", "programme", "costs", "findings", "left_out"),
        *("fixing_options", "coil_options", "row_ids", "block_costs", "season"),
    )
    promised = {
        "map.html",
        "cards/field_cards.pdf",
        "cards/field_forms.pdf",
        "run.json",
        "gis/plan.gpkg",
        "data_dictionary.md",
        "data_dictionary.csv",
        "schedule/order.xlsx",
        *(f"schedule/{name}.csv" for name in tables),
    }
    assert set(fingerprints(result)) == promised
    assert (result / "map.html").stat().st_size < 2_000_000


def test_a_part_can_be_had_alone_and_formats_on_top(tmp_path: Path) -> None:
    always = {"run.json", "data_dictionary.md", "data_dictionary.csv"}
    done = wirerun("plan", CONFIG, "--out", tmp_path / "p", "--only", "gis", "--formats", "staking, gpx", "--quiet")
    assert done.returncode == 0, done.stderr
    assert set(fingerprints(tmp_path / "p")) == always | {"gis/plan.gpkg", "gis/staking.csv", "gis/plan.gpx"}
    again = ("--only", "cards", "--only", "map", "--overwrite", "--quiet")
    assert wirerun("plan", CONFIG, "--out", tmp_path / "p", *again).returncode == 0
    assert set(fingerprints(tmp_path / "p")) == always | {"cards/field_cards.pdf", "cards/field_forms.pdf", "map.html"}


def test_a_format_or_part_that_is_none_is_refused(tmp_path: Path) -> None:
    for words, said in (
        (("--formats", "geojson,paper"), "'paper' is none of"),
        (("--only", "paper"), "'paper' is not"),
    ):
        done = wirerun("plan", CONFIG, "--out", tmp_path / "p", *words)
        assert done.returncode == 2
        assert said in done.stderr
        assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_second_run_gives_the_same_bytes(result: Path) -> None:
    before = fingerprints(result)
    done = wirerun("plan", CONFIG, "--out", result)
    assert done.returncode == 2
    assert "--overwrite" in done.stderr
    assert fingerprints(result) == before
    done = wirerun("plan", CONFIG, "--out", result, "--overwrite", "--json", "--quiet")
    assert done.returncode == 0
    assert done.stderr == ""
    assert json.loads(done.stdout)["name"] == "encosta-nova"
    assert fingerprints(result) == before


@pytest.mark.parametrize(("config", "code"), [("encosta_nova.toml", 0), ("encosta_nova_given.toml", 5)])
def test_strict_turns_warnings_into_an_exit_code(config: str, code: int, tmp_path: Path) -> None:
    done = wirerun("plan", CONFIG.with_name(config), "--out", tmp_path / "strict", "--strict", "--quiet")
    findings = pd.read_csv(tmp_path / "strict/schedule/findings.csv", encoding="utf-8-sig")
    assert bool({"warning", "error"} & set(findings["level"])) == (code == 5)
    assert done.returncode == code


def test_the_tables_add_up(result: Path) -> None:
    """Each number traced to another table, from the files alone."""
    t = {path.stem: pd.read_csv(path, encoding="utf-8-sig") for path in (result / "schedule").glob("*.csv")}
    rows, posts, spans, clips, wires = t["rows"], t["posts"], t["spans"], t["clips"], t["wires"]
    assert len(rows) > 150
    assert len(posts) == rows["posts"].sum()
    assert len(spans) == 3 * rows["spans"].sum()
    assert len(clips) == 3 * (len(posts) - 2 * len(rows))
    assert rows["two_way_posts"].sum() == posts["section_id"].notna().sum() == t["sections"]["posts"].sum()
    two_way = clips.loc[clips["clip"] == "two-way", "post_id"]
    assert set(two_way) == set(posts.loc[posts["section_id"].notna(), "post_id"])
    assert len(two_way) == 2 * two_way.nunique()
    by_wire = spans.groupby(["row_id", "wire_id"])["cut_m"].sum()
    cut = wires.set_index(["row_id", "wire_id"])["cut_m_per_line"]
    # A row has up to 45 spans, each rounded to 0.1 mm.
    np.testing.assert_allclose(by_wire[cut.index], cut, atol=3e-3)
    run_out = wires["lines"] * (wires["cut_m_per_line"] + wires["tails_m_per_line"])
    np.testing.assert_allclose(wires["run_out_m"], run_out, atol=2e-3)
    # 8.05 ha at 2.4 m would carry 33 540 m; headlands of 6 m at both ends of 165 m rows take some 7 %.
    assert rows["length_m"].sum() == pytest.approx(0.93 * 80_500 / 2.4, rel=0.02)


def test_adjusters_are_ordered_where_too_little_of_a_row_is_clear(result: Path) -> None:
    """Seven wires are 0.03 to 9 mm above the ground at mid-row and touch it to both sides, by a solver of its own.

    Five of them are out of the way along the row as well. The two of B01-R046 hang over hollows, up to 1.4 m high, on
    more than a third of the middle: a point at mid-row does not tell.
    """
    wires = pd.read_csv(result / "schedule/wires.csv", encoding="utf-8-sig").set_index(["row_id", "wire_id"])
    lying = [(row, wire) for row in ("B01-R068", "B02-R036") for wire in ("lower", "upper")] + [("B02-R024", "lower")]
    hanging = [("B01-R046", wire) for wire in ("lower", "upper")]
    assert (wires["dropped_height_m"].loc[lying + hanging] < 0.01).all()
    assert wires["drops_by_itself"].loc[lying].tolist() == ["yes"] * 5
    assert wires["drops_by_itself"].loc[hanging].tolist() == ["no"] * 2
    assert (wires["clear_pct"].loc[hanging] < 65.0).all()
    assert (wires["greatest_up_m"].loc[hanging] > 1.2).all()
    adjusters = pd.read_csv(result / "schedule/adjusters.csv", encoding="utf-8-sig")
    ordered = adjusters.set_index(["row_id", "wire_id"]).index
    slack = wires["lift_slack_mm"] > 0.0
    assert not set(lying) & set(ordered)
    assert set(ordered) == set(wires.index[(wires["drops_by_itself"] == "no") | slack])
    assert adjusters["take_up_mm"].min() >= 10.0
    # What is asked: as much as a wire clears that touches half-way on the level, 1.2 (1 - 2 s)^2 <= 0.5.
    foliage = wires[wires["drops_by_itself"].notna() & (wires["take_up_mm"] == 0.0)]
    for wire, height in (("lower", 1.2), ("upper", 1.45)):
        clear = foliage.xs(wire, level="wire_id")["clear_pct"]
        assert clear.min() > 100.0 * np.sqrt(0.5 / height) / 0.8 - 3.0  # a centimetre, and less than 10 mm to take up


def test_no_wire_is_lifted_by_more_than_a_hand_moves(result: Path) -> None:
    """A row kept at its length over a crest was to be lifted at 1304 N; an adjuster lets it out first."""
    lifts = pd.read_csv(result / "schedule/lifts.csv", encoding="utf-8-sig")
    assert lifts[["tension_n", "far_tension_n"]].to_numpy().max() < 610.0
    findings = pd.read_csv(result / "schedule/findings.csv", encoding="utf-8-sig")
    told = findings.loc[findings["code"] == "lift-slack", "message"]
    assert len(told) == 4
    assert told.str.contains("B02-R07").any()


def test_python_gives_the_same_tables_without_writing(
    result: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    plan = plan_config(load_config(CONFIG))
    assert list(tmp_path.iterdir()) == []
    rows = pd.read_csv(result / "schedule/rows.csv", encoding="utf-8-sig")
    assert plan.rows["row_id"].tolist() == rows["row_id"].tolist()
    np.testing.assert_allclose(plan.rows["length_m"], rows["length_m"], atol=6e-4)


def test_a_failing_run_leaves_the_earlier_result(result: Path, tmp_path: Path) -> None:
    before = fingerprints(result)
    broken = tmp_path / "broken.toml"
    text = CONFIG.read_text().replace("../sample_data", str(ROOT / "sample_data"))
    broken.write_text(text.replace("spacing_m = 2.4", "spacing_m = 240.0").replace("hold_down_n", "hold_donw_n"))
    done = wirerun("plan", broken, "--out", result, "--overwrite")
    assert done.returncode == 3
    assert "hold_down_n" in done.stderr
    assert "240" in done.stderr
    assert "Traceback" not in done.stderr
    assert fingerprints(result) == before
    assert [path.name for path in result.parent.iterdir()] == [result.name]
