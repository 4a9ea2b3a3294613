"""The whole result, with the map replaced by a stand-in: the order, and what an interruption at each step leaves."""

from collections.abc import Callable
from pathlib import Path

import pytest
from wirerun.errors import TargetError
from wirerun.records import Plan
from wirerun.tables import TABLES
from wirerun.write import result
from wirerun.write.record import is_result, read_record
from wirerun.write.result import write_result

STEPS = ["write_schedule", "write_gis", "write_map", "write_record"]


@pytest.fixture(autouse=True)
def _stand_in_map(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(result, "write_map", lambda _plan, path: path.write_text("<html>"))


def _contents(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_the_result_is_whole_and_true(plan: Plan, tmp_path: Path) -> None:
    target = write_result(plan, tmp_path / "plan", overwrite=False)
    assert is_result(target, verify=True)
    dictionary = {"data_dictionary.md", "data_dictionary.csv"}
    wanted = {"map.html", "gis/plan.gpkg", "cards/field_cards.pdf", "cards/field_forms.pdf", *dictionary}
    wanted |= {"schedule/order.xlsx", *(f"schedule/{name}.csv" for name in TABLES)}
    assert set(read_record(target)["outputs"]) == wanted
    assert set(_contents(target)) == {"run.json", *wanted}


def test_the_same_plan_gives_the_same_bytes_in_every_file(plan: Plan, tmp_path: Path) -> None:
    first = _contents(write_result(plan, tmp_path / "a", overwrite=False))
    assert _contents(write_result(plan, tmp_path / "b", overwrite=False)) == first
    assert _contents(write_result(plan, tmp_path / "a", overwrite=True)) == first


def test_a_second_result_needs_leave_to_replace_the_first(plan: Plan, tmp_path: Path) -> None:
    target = write_result(plan, tmp_path / "plan", overwrite=False)
    before = _contents(target)
    with pytest.raises(TargetError, match="--overwrite"):
        write_result(plan, target, overwrite=False)
    assert _contents(target) == before


@pytest.mark.parametrize("stop", [RuntimeError, KeyboardInterrupt])
@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("late", [False, True], ids=["before", "after"])
def test_an_interruption_at_any_step_leaves_the_old_result(
    plan_maker: Callable[..., Plan],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    step: str,
    stop: type[BaseException],
    late: bool,  # noqa: FBT001 - a test parameter
) -> None:
    target = write_result(plan_maker(), tmp_path / "plan", overwrite=False)
    before = _contents(target)
    work = getattr(result, step)

    def fail(plan: Plan, path: Path) -> None:
        if late:
            work(plan, path)
        raise stop

    monkeypatch.setattr(result, step, fail)
    with pytest.raises(stop):
        write_result(plan_maker((7, 3, 4)), target, overwrite=True)
    assert _contents(target) == before
    assert [path.name for path in tmp_path.iterdir()] == ["plan"]


@pytest.mark.parametrize("step", STEPS)
def test_an_interruption_of_a_first_run_leaves_nothing(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fail(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(result, step, fail)
    with pytest.raises(KeyboardInterrupt):
        write_result(plan, tmp_path / "plan", overwrite=False)
    assert list(tmp_path.iterdir()) == []
