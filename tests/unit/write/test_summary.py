"""What the terminal says of a plan, in the units of its config."""

from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console
from wirerun.cli.summary import say_summary
from wirerun.records import Plan
from wirerun.units import System


def summary(plan: Plan, system: System, monkeypatch: pytest.MonkeyPatch) -> str:
    output = plan.config.output.model_copy(update={"units": system})
    said = StringIO()
    paper = Console(file=said, width=100, highlight=False, markup=False)
    monkeypatch.setattr("wirerun.cli.summary.terminal", lambda: paper)
    monkeypatch.setattr("wirerun.cli.talk.terminal", lambda: paper)
    dressed = replace(plan, config=plan.config.model_copy(update={"output": output}), findings=plan.findings.iloc[:0])
    say_summary(dressed, Path("out"), times=False)
    return " ".join(said.getvalue().split())


def test_the_summary_is_metric_or_imperial(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    metric, feet = (summary(plan, system, monkeypatch) for system in ("metric", "imperial"))
    lower = plan.wires.loc[plan.wires["wire_id"] == "lower", "run_out_m"].sum()
    assert "block, 0.43 ha" in metric
    assert "row, 21 m, NOT INCLUDED anywhere" in metric
    assert f"{lower:.0f} m of wire 'lower' (2 lines of 2.5 mm)" in metric
    assert "block, 1.07 ac" in feet  # 0.4321 ha; the acre of international feet has 0.40468564224 ha
    assert "rows, 138 ft" in feet
    assert "row, 70 ft, NOT INCLUDED anywhere" in feet
    assert f"{lower / 0.3048:.0f} ft of wire 'lower' (2 lines of 0.098 in)" in feet


def test_an_american_summary_speaks_american(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    output = plan.config.output.model_copy(update={"terms": "us"})
    said = summary(replace(plan, config=plan.config.model_copy(update={"output": output})), "imperial", monkeypatch)
    assert "labor hours" in said
    assert "catch wires" in said
    assert "labour" not in said
