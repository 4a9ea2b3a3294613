"""The last catch: whatever happens in a command, a person gets a sentence and an exit code, never a traceback."""

import errno
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from wirerun import api
from wirerun.cli import main, talk
from wirerun.errors import Exit, TargetError
from wirerun.findings import Finding


@pytest.fixture(autouse=True)
def faults_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return where tracebacks are kept during a test."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    return tmp_path


def check_with(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> Result:
    """Run a command that raises."""

    def fail(_: object) -> None:
        raise error

    monkeypatch.setattr(api, "load_config", fail)
    return CliRunner().invoke(main, ["check", "any.toml"])


@pytest.mark.parametrize(
    "error",
    [
        ValueError("odd \x1b[2J\nand more"),
        RecursionError("maximum recursion depth exceeded"),
        KeyError("B01"),
        OSError(errno.EIO, "Input/output error", "ground.tif"),
        RuntimeError(),
    ],
)
def test_what_nobody_foresaw(monkeypatch: pytest.MonkeyPatch, faults_folder: Path, error: Exception) -> None:
    done = check_with(monkeypatch, error)
    assert done.exit_code == Exit.OUR_FAULT
    assert done.stdout == ""
    (first, second) = done.stderr.splitlines()
    assert first.startswith(f"error: a fault of wirerun's own stopped the work ({type(error).__name__}")
    assert "\x1b" not in first
    (kept,) = faults_folder.glob("wirerun-fault-*.txt")
    assert second == f"What Python says of it is kept in {kept}: please send that file with a report."
    text = kept.read_text()
    assert re.match(r"wirerun \S+, Python \S+, \w+\nTraceback \(most recent call last\):\n", text)
    assert type(error).__name__ in text
    assert kept.stat().st_mode & 0o077 == 0


def test_a_fault_that_cannot_even_be_kept(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    done = check_with(monkeypatch, ValueError("odd"))
    assert done.exit_code == Exit.OUR_FAULT
    assert done.stderr.splitlines() == [
        "error: a fault of wirerun's own stopped the work (ValueError: odd).",
        "What Python says of it could not be kept: No such file or directory.",
    ]


def test_too_little_memory_has_a_sentence_of_its_own(monkeypatch: pytest.MonkeyPatch, faults_folder: Path) -> None:
    done = check_with(monkeypatch, MemoryError())
    assert done.exit_code == Exit.OUR_FAULT
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("error: the work needs more memory than there is; plan fewer or smaller blocks")
    assert not list(faults_folder.glob("wirerun-fault-*"))


def test_what_is_foreseen_stays_as_it_is(monkeypatch: pytest.MonkeyPatch, faults_folder: Path) -> None:
    assert check_with(monkeypatch, TargetError("there is no room")).exit_code == Exit.USAGE
    assert check_with(monkeypatch, KeyboardInterrupt()).exit_code == Exit.INTERRUPTED
    asked = check_with(monkeypatch, click.BadParameter("no such thing"))
    assert asked.exit_code == Exit.USAGE
    assert "no such thing" in asked.stderr
    assert not list(faults_folder.glob("wirerun-fault-*"))


def test_a_pipe_that_is_closed_is_no_fault() -> None:
    """As ``wirerun schema | head -1`` does it."""
    first, last = (
        [sys.executable, "-c", code]
        for code in (
            "import sys; from wirerun.cli import main; sys.argv = ['wirerun', 'schema']; main()",
            "import sys; sys.stdin.readline()",
        )
    )
    with subprocess.Popen(first, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as talk:  # noqa: S603
        subprocess.run(last, stdin=talk.stdout, check=True)  # noqa: S603 - our own words
        assert talk.stdout is not None
        talk.stdout.close()
        assert talk.stderr is not None
        assert "Traceback" not in talk.stderr.read()


def test_what_is_said_is_neither_markup_nor_obeyed(capsys: pytest.CaptureFixture[str]) -> None:
    talk.say(str(Finding("relief", "[red]a\x1b[2J\nb.tif", "[/] High")))  # the one door
    said = capsys.readouterr().err
    assert "[red]a" in said
    assert "[/] High" in said
    assert "\x1b" not in said
    assert said.count("\n") == 1


def test_findings_come_by_kind_with_a_number(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Twenty-five notes of equal weight hide the one warning among them."""
    notes = [("note", "drop-span", f"B{at:02d}", "Wire lower drops.") for at in range(25)]
    rows = [("warning", "steep-row", "B[red]1\x1b[2J", "2 rows are steep."), *notes]
    talk.say_findings(rows, tmp_path / "schedule" / "findings.csv")
    said = capsys.readouterr().err
    assert "\x1b" not in said
    first, second, *rest = said.splitlines()
    assert first == "warning: B[red]1\\x1b[2J: 2 rows are steep."
    assert second == "Notes by kind:"
    assert re.match(r"25 +drop-span +How many rows drop", rest[0])
    assert len(rest) <= 2
    assert "in full" not in said  # there is no file
    (tmp_path / "schedule").mkdir()
    (tmp_path / "schedule" / "findings.csv").touch()
    talk.say_findings(rows, tmp_path / "schedule" / "findings.csv")
    assert "26 findings in full: " in capsys.readouterr().err


def test_help_waits_for_no_library_of_tables_or_maps() -> None:
    asks = "import sys, wirerun.cli; print([name for name in ('numpy', 'pandas', 'pydantic') if name in sys.modules])"
    told = subprocess.run([sys.executable, "-c", asks], check=True, capture_output=True, text=True)  # noqa: S603
    assert told.stdout.strip() == "[]"


def test_help_is_not_cut_at_eighty_columns() -> None:
    told = CliRunner().invoke(main, ["--help"], terminal_width=80).stdout
    assert "..." not in told.partition("Commands:")[2]
    assert max(map(len, told.splitlines())) <= 80
    assert told.count("\n  ") >= len(main.commands)
    lines = dict(line.split(None, 1) for line in told.partition("Commands:\n")[2].splitlines())
    assert (lines["check"].split()[0], lines["estate"].split()[0]) == ("Read", "Plan"), "each has its own line"


def test_doctor_ends_with_a_verdict(monkeypatch: pytest.MonkeyPatch) -> None:
    good = CliRunner().invoke(main, ["doctor"])
    assert good.exit_code == Exit.GOOD
    assert good.stderr.splitlines()[-1] == "Nothing is missing: this machine can plan."
    # What the package needs is listed, whatever that is.
    assert {"reportlab", "branca", "ezdxf", "contourpy"} <= {line.split(":")[0] for line in good.stdout.splitlines()}
    monkeypatch.setattr("wirerun.read.machine.examine", lambda: ({"python": "3"}, ["fiona cannot read GPKG"]))
    bad = CliRunner().invoke(main, ["doctor"])
    assert bad.exit_code == Exit.OUR_FAULT
    assert bad.stderr.splitlines()[-1] == "1 thing is missing: plans may fail until that is mended."
