"""The house rules that the linters do not know: who opens files, what a module is called, what the README promises."""

import ast
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
PACKAGE = ROOT / "pipeline" / "wirerun"
MODULES = sorted(PACKAGE.rglob("*.py"))
# Sizes that mechanics may count in a loop: batches of many rows, terms of a sum, and the places of the longest row,
# where all rows are walked side by side.
COUNTED = {"bounds.size - 1", "_NODES.size", "self.size[0]"}
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


def walks_an_array(loop: str) -> bool:
    """Whether a `for` over this expression goes place by place through an array, instead of rounds, terms or chunks."""
    over = ast.parse(loop, mode="eval").body
    if not isinstance(over, ast.Call):
        return not isinstance(over, ast.Tuple)
    if ast.unparse(over.func) in {"batches", "chunks"}:
        return False
    if ast.unparse(over.func) != "range":
        return not loop.startswith("fields(") and not loop.endswith(".items()")
    if len(over.args) == 3 and isinstance(over.args[2], ast.Name) and over.args[2].id.isupper():
        return False  # chunks of a fixed size
    limits = [ast.unparse(limit) for limit in over.args]
    return any(word in limit for limit in limits for word in (".size", "len(", ".shape") if limit not in COUNTED)


def test_a_loop_over_spans_is_told_from_one_over_rounds_or_chunks() -> None:
    for loop in ("x", "x.tolist()", "zip(x, z)", "range(x.size)", "range(1, x.size)", "range(len(x))"):
        assert walks_an_array(loop), loop
    for loop in ("range(0, x.shape[0])", "range(0, x.size, 1)", "range(x.size - 1, 0, -1)", "range(0, x.size, step)"):
        assert walks_an_array(loop), loop
    for loop in ("range(20)", "range(_MOST_ROUNDS)", "range(20, 1, -1)", "range(0, x.size, _CHUNK)"):
        assert not walks_an_array(loop), loop
    for loop in ("values.items()", "fields(Chain)", "(low, high)", "range(bounds.size - 1)"):
        assert not walks_an_array(loop), loop


def test_mechanics_has_no_loop_over_spans() -> None:
    """A `for` in mechanics may count rounds, terms or chunks, never walk an array."""
    loops = [
        f"{module.name}:{node.lineno} walks {ast.unparse(node.iter)}"
        for module in (PACKAGE / "mechanics").glob("*.py")
        for node in ast.walk(ast.parse(module.read_text()))
        if isinstance(node, ast.For) and walks_an_array(ast.unparse(node.iter))
    ]
    assert not loops


def test_the_readme_has_both_commands_and_names_every_exit_code() -> None:
    readme = (ROOT / "README.md").read_text()
    assert "<!-- run command -->" in readme
    assert "<!-- test command -->" in readme
    reference = (PACKAGE.parent / "REFERENCE.md").read_text()
    assert "(pipeline/REFERENCE.md" in readme
    for code in ("0", "1", "2", "3", "4", "5", "130"):
        assert f"| {code} |" in reference


def test_links_of_the_readme_and_the_reference_lead_somewhere() -> None:
    """Files are there, and so is the heading that a link names."""
    for page in (ROOT / "README.md", PACKAGE.parent / "REFERENCE.md"):
        for link in re.findall(r"\]\(([^)\s]+)\)", page.read_text()):
            file, _, heading = link.partition("#")
            target = (page.parent / file).resolve() if file else page
            assert target.exists(), (page.name, link)
            if heading:
                heads = re.findall(r"(?m)^#+ (.+)$", target.read_text())
                slugs = {re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-") for head in heads}
                assert heading in slugs, (page.name, link)


def test_stated_minimum_versions_are_the_ones_of_the_minimum_file() -> None:
    """tests/minimum.txt pins what was run; a bound moved in one place only is caught here."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    stated = {}
    for requirement in project["dependencies"]:
        name, bound = requirement.split(">=")
        stated[name] = bound.split(",")[0]
    pinned = dict(line.split("==") for line in (ROOT / "tests/minimum.txt").read_text().split() if "==" in line)
    assert {name: pinned.get(name) for name in stated} == stated
