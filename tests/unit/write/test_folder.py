"""The result folder: whole or not at all, and nothing lost on the way."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from wirerun.errors import Exit, TargetError
from wirerun.write import folder as folder_module
from wirerun.write.folder import check_target, result_folder


def _fill(place: Path, word: str) -> None:
    """Write a small finished result."""
    (place / "map.html").write_text(word)
    outputs = {"map.html": {"sha256": "", "bytes": len(word)}}
    (place / "run.json").write_text(json.dumps({"format": 1, "name": "a", "outputs": outputs}))


# Replaces a result, and dies at the given step of those that rename or remove.
KILLED = """
import json, os, pathlib, shutil, sys
from wirerun.write.folder import result_folder
steps = int(sys.argv[2])
def mortal(step):
    def call(*given, **options):
        global steps
        steps -= 1
        if steps < 0:
            os._exit(9)
        return step(*given, **options)
    return call
pathlib.Path.rename, shutil.rmtree = mortal(pathlib.Path.rename), mortal(shutil.rmtree)
with result_folder(pathlib.Path(sys.argv[1]), overwrite=True) as draft:
    for name, text in json.loads(sys.argv[3]).items():
        (draft / name).write_text(text)
"""


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "outputs" / "plan"


@pytest.fixture
def old(target: Path) -> Path:
    target.mkdir(parents=True)
    _fill(target, "old")
    return target


@pytest.fixture
def dead_process() -> int:
    """Return the number of a process that has ended."""
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    return process.pid


def _beside(target: Path, process: int, kind: str) -> Path:
    return target.with_name(f".{target.name}.{folder_module._machine()}-{process}-0123abcd.{kind}")  # noqa: SLF001


def _fill_and_stop(draft: Path, stop: type[BaseException]) -> None:
    _fill(draft, "half")
    raise stop


def _fill_both(draft: Path, target: Path) -> None:
    """Finish a result while somebody else puts one in its place."""
    _fill(draft, "new")
    target.mkdir()
    _fill(target, "old")


def _assert_old_alone(target: Path) -> None:
    assert (target / "map.html").read_text() == "old"
    assert [path.name for path in target.parent.iterdir()] == [target.name]


def test_a_new_result_appears_whole_with_its_parents(target: Path) -> None:
    with result_folder(target, overwrite=False) as draft:
        assert not target.exists()
        assert draft.parent == target.parent
        assert draft.name.startswith(".")
        _fill(draft, "new")
    assert (target / "map.html").read_text() == "new"
    assert [path.name for path in target.parent.iterdir()] == ["plan"]


def test_a_finished_result_is_replaced_only_when_asked(old: Path) -> None:
    with pytest.raises(TargetError, match="holds a finished plan already"), result_folder(old, overwrite=False):
        pytest.fail("the block must not run")
    _assert_old_alone(old)
    with result_folder(old, overwrite=True) as draft:
        _fill(draft, "new")
    assert (old / "map.html").read_text() == "new"
    assert [path.name for path in old.parent.iterdir()] == ["plan"]


def test_an_empty_folder_is_fine(target: Path) -> None:
    target.mkdir(parents=True)
    with result_folder(target, overwrite=False) as draft:
        _fill(draft, "new")
    assert (target / "map.html").read_text() == "new"


@pytest.mark.parametrize("overwrite", [False, True])
def test_foreign_files_are_never_touched(target: Path, overwrite: bool) -> None:  # noqa: FBT001 - a test parameter
    target.mkdir(parents=True)
    (target / "photo.jpg").write_text("mine")
    with pytest.raises(TargetError, match="holds something that is not a finished plan"):
        check_target(target, overwrite=overwrite)
    assert (target / "photo.jpg").read_text() == "mine"


@pytest.mark.parametrize("name", ["notes.txt", "schedule/mine.csv"])
def test_a_file_of_the_users_inside_a_result_is_not_thrown_away(old: Path, name: str) -> None:
    (old / name).parent.mkdir(exist_ok=True)
    (old / name).write_text("mine")
    with pytest.raises(TargetError, match=f"holds {name}, which the plan there did not write"):
        check_target(old, overwrite=True)


def test_what_desktops_and_database_readers_drop_does_not_count(old: Path) -> None:
    for name in (".DS_Store", "Thumbs.db", "map.html-wal", "map.html-shm"):
        (old / name).write_text("")
    check_target(old, overwrite=True)
    (old / "other.gpkg-wal").write_text("")
    with pytest.raises(TargetError, match=r"other\.gpkg-wal"):
        check_target(old, overwrite=True)


def test_a_result_that_was_edited_may_still_be_overwritten(old: Path) -> None:
    (old / "map.html").write_text("edited, and longer")
    check_target(old, overwrite=True)


def test_a_link_inside_a_result_counts_as_the_users(old: Path, tmp_path: Path) -> None:
    (old / "photos").symlink_to(tmp_path)
    with pytest.raises(TargetError, match="holds photos"):
        check_target(old, overwrite=True)


def test_a_file_in_the_place_is_refused(target: Path) -> None:
    target.parent.mkdir()
    target.write_text("mine")
    with pytest.raises(TargetError, match="is a file; a plan needs a folder") as caught:
        check_target(target, overwrite=True)
    assert caught.value.exit_code == Exit.USAGE
    with pytest.raises(TargetError, match="is a file"):
        check_target(target / "deeper" / "still", overwrite=True)


def test_a_parent_without_the_right_to_write_is_refused(target: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(TargetError, match="no right to write"):
        check_target(target, overwrite=False)


def test_a_check_makes_nothing(target: Path) -> None:
    check_target(target, overwrite=False)
    assert not target.parent.exists()


def test_a_link_to_a_folder_is_followed(old: Path, tmp_path: Path) -> None:
    link = tmp_path / "link"
    link.symlink_to(old)
    with result_folder(link, overwrite=True) as draft:
        _fill(draft, "new")
    assert link.is_symlink()
    assert (old / "map.html").read_text() == "new"


@pytest.mark.parametrize("stop", [RuntimeError, KeyboardInterrupt, SystemExit, MemoryError])
def test_whatever_stops_the_work_the_old_result_stays(old: Path, stop: type[BaseException]) -> None:
    with pytest.raises(stop), result_folder(old, overwrite=True) as draft:
        _fill_and_stop(draft, stop)
    _assert_old_alone(old)


def test_a_full_disk_is_one_sentence(old: Path) -> None:
    with (
        pytest.raises(TargetError, match=r"plan cannot be written: No space left on device"),
        result_folder(old, overwrite=True),
    ):
        raise OSError(28, "No space left on device")
    _assert_old_alone(old)


@pytest.mark.parametrize("stop", [PermissionError(13, "Permission denied"), KeyboardInterrupt()])
@pytest.mark.parametrize("at", [".old", "plan"])
def test_a_rename_that_fails_puts_the_old_result_back(
    old: Path, monkeypatch: pytest.MonkeyPatch, stop: BaseException, at: str
) -> None:
    rename = Path.rename
    failed: list[Path] = []

    def fail_once(path: Path, to: Path) -> Path:
        if to.name.endswith(at) and not failed:
            failed.append(to)
            raise stop
        return rename(path, to)

    monkeypatch.setattr(Path, "rename", fail_once)
    expected = TargetError if isinstance(stop, OSError) else KeyboardInterrupt
    with pytest.raises(expected), result_folder(old, overwrite=True) as draft:
        _fill(draft, "new")
    assert failed
    _assert_old_alone(old)


def test_what_appears_meanwhile_is_not_replaced(target: Path) -> None:
    with (
        pytest.raises(TargetError, match="holds a finished plan already"),
        result_folder(target, overwrite=False) as draft,
    ):
        _fill_both(draft, target)
    _assert_old_alone(target)


def test_an_old_result_that_a_killed_run_left_aside_is_put_back(old: Path, dead_process: int) -> None:
    old.rename(_beside(old, dead_process, "old"))
    _beside(old, dead_process, "part").mkdir()
    with pytest.raises(TargetError, match="holds a finished plan already"):
        check_target(old, overwrite=False)
    _assert_old_alone(old)


@pytest.mark.parametrize("overwrite", [True, False])
def test_an_empty_folder_in_the_place_does_not_cost_the_old_result(
    old: Path, dead_process: int, *, overwrite: bool
) -> None:
    """A script makes the folder anew after a run was killed between the two renames."""
    old.rename(_beside(old, dead_process, "old"))
    old.mkdir()
    if overwrite:
        check_target(old, overwrite=True)
    else:
        with pytest.raises(TargetError, match="holds a finished plan already"):
            check_target(old, overwrite=False)
    _assert_old_alone(old)


def test_an_old_result_stays_aside_while_something_else_stands_in_its_place(old: Path, dead_process: int) -> None:
    aside = old.rename(_beside(old, dead_process, "old"))
    old.mkdir()
    (old / "notes.txt").write_text("mine")
    with pytest.raises(TargetError, match="not a finished plan"):
        check_target(old, overwrite=True)
    assert (aside / "map.html").read_text() == "old"
    (old / "notes.txt").unlink()
    check_target(old, overwrite=True)
    _assert_old_alone(old)


def test_an_old_result_that_is_half_deleted_is_never_put_back(
    old: Path, monkeypatch: pytest.MonkeyPatch, dead_process: int
) -> None:
    """Killed while the old result was being deleted; then the user deletes the new one."""

    def stop(path: Path, **_: object) -> None:
        if (path / "map.html").exists() and (path / "map.html").read_text() == "old":
            (path / "map.html").unlink()

    monkeypatch.setattr(shutil, "rmtree", stop)
    with result_folder(old, overwrite=True) as draft:
        _fill(draft, "new")
    monkeypatch.undo()
    (half,) = (path for path in old.parent.iterdir() if path != old)
    half.rename(half.with_name(half.name.replace(f"-{os.getpid()}-", f"-{dead_process}-")))
    shutil.rmtree(old)
    check_target(old, overwrite=False)
    assert list(old.parent.iterdir()) == []


def test_whatever_a_killed_run_leaves_no_result_is_lost(old: Path) -> None:
    """Killed at every step of the swap, by turns with and without an empty folder made in between."""
    seen = set()
    for step, empty in ((0, False), (1, False), (1, True), (2, True), (3, False), (4, False), (5, False)):
        shutil.rmtree(old.parent)
        old.mkdir(parents=True)
        _fill(old, "new")
        made = {path.name: path.read_text() for path in old.iterdir()}
        _fill(old, "old")
        command = [sys.executable, "-c", KILLED, str(old), str(step), json.dumps(made)]
        done = subprocess.run(command, check=False)  # noqa: S603
        assert done.returncode in {0, 9}
        if empty:
            old.mkdir(exist_ok=True)
        check_target(old, overwrite=True)
        seen.add((done.returncode, (old / "map.html").read_text()))
        assert [path.name for path in old.parent.iterdir()] == ["plan"]
    assert seen == {(9, "old"), (9, "new"), (0, "new")}


def test_remnants_of_dead_runs_are_removed_and_those_of_living_ones_are_not(old: Path, dead_process: int) -> None:
    dead = [_beside(old, dead_process, kind) for kind in ("part", "old")]
    theirs = [
        _beside(old, os.getppid(), "part"),
        old.with_name(f".plan.ffffffff-{dead_process}-0123abcd.part"),
        old.with_name(f".plan2{dead[0].name.removeprefix('.plan')}"),
        old.with_name(".plan.part"),
    ]
    for path in (*dead, *theirs):
        path.mkdir()
    check_target(old, overwrite=True)
    assert sorted(old.parent.iterdir()) == sorted([old, *theirs])


@pytest.mark.parametrize("leave", [lambda p: (p / "map.html").unlink(), lambda p: (p / "run.json").write_text("{")])
def test_an_unfinished_folder_is_no_plan_to_overwrite(old: Path, leave: Callable[[Path], object]) -> None:
    leave(old)
    if (old / "map.html").exists():
        with pytest.raises(TargetError, match="not a finished plan"):
            check_target(old, overwrite=True)
    else:
        check_target(old, overwrite=True)
