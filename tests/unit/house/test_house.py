"""The house rules that the linters do not know: who opens files, what a module is called, what the README promises."""

import ast
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
PACKAGE = ROOT / "pipeline" / "wirerun"
MODULES = sorted(PACKAGE.rglob("*.py"))
OPENERS = {"open", "read_text", "read_bytes", "write_text", "write_bytes", "mkdir", "unlink", "touch"}


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_files_are_opened_in_read_and_write_only(module: Path) -> None:
    if module.relative_to(PACKAGE).parts[0] in ("read", "write"):
        return
    calls = [node for node in ast.walk(ast.parse(module.read_text())) if isinstance(node, ast.Call)]
    opened = [
        node.lineno
        for node in calls
        if (isinstance(node.func, ast.Name) and node.func.id == "open")
        or (isinstance(node.func, ast.Attribute) and node.func.attr in OPENERS)
    ]
    assert not opened, f"{module} opens files at lines {opened}"


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_modules_are_called_by_their_idea(module: Path) -> None:
    assert module.stem not in {"utils", "helpers", "common", "core"}


def test_mechanics_has_no_loop_over_spans() -> None:
    """A `for` in mechanics may count rounds or terms or take a cacheful at a time, never walk an array."""
    for module in (PACKAGE / "mechanics").glob("*.py"):
        for node in ast.walk(ast.parse(module.read_text())):
            if isinstance(node, ast.For):
                walked = ast.unparse(node.iter)
                if walked.startswith(("batches(", "chunks(")):
                    continue
                assert not any(word in walked for word in (".size", "len(", ".shape")), f"{module.name}:{node.lineno}"
                assert walked.startswith(("range(", "fields(", "values.items(", "(")) or walked.endswith(".items()"), (
                    f"{module.name}:{node.lineno} walks {walked}"
                )


def test_the_readme_has_both_commands_and_names_every_exit_code() -> None:
    readme = (ROOT / "README.md").read_text()
    assert "<!-- run command -->" in readme
    assert "<!-- test command -->" in readme
    for code in ("0", "1", "2", "3", "4", "5", "130"):
        assert f"| {code} |" in readme


def test_stated_minimum_versions_are_the_ones_of_the_minimum_file() -> None:
    """tests/minimum.txt pins what was run; a bound moved in one place only is caught here."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    stated = {}
    for requirement in project["dependencies"]:
        name, bound = requirement.split(">=")
        stated[name] = bound.split(",")[0]
    pinned = dict(line.split("==") for line in (ROOT / "tests/minimum.txt").read_text().split() if "==" in line)
    assert {name: pinned.get(name) for name in stated} == stated
