"""How many small faults the tests of a room find: a seeded sample of mutants, each run against that room's own tests.

    python tests/mutants.py mechanics --sample 80 --seed 1

Wants the `mutants` extra and a system that can fork. A mutant is one operator, comparison, number, `and`, `or`, `not`,
`True` or `False` of the room's modules changed, by cosmic-ray. Swaps that nearly any run notices (`+` to `>>`) are left
out: they would flatter the score. Tests are the room's unit tests and the published ones, with the examples of its
docstrings; never whole plans. A mutant is killed where a test fails, or where the tests take four times the processor
time that they take without it, and ten seconds more.

A mutant meets the files of tests that run its statement, the quickest first; one in a statement that runs on import
those that run anything of its module, or all where none does. Works on a copy in a temporary folder. The libraries are
imported once, and each mutant runs in a fork of that process.
"""

import argparse
import ast
import contextlib
import difflib
import importlib
import json
import os
import pkgutil
import random
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import coverage
import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator

ROOT = Path(__file__).parent.parent
#: Room, and what is run against it. A rule serves stages and writers: their tests are its tests too.
ROOMS = {
    "mechanics": ["tests/unit/mechanics", "tests/published"],
    "surface": ["tests/unit/surface", "tests/published"],
    "optimise": ["tests/unit/optimise", "tests/published"],
    "geometry": ["tests/unit/geometry", "tests/published"],
    "rules": ["tests/unit/rules", "tests/unit/write/test_headline.py", "tests/unit/stages", "tests/published"],
    "stages/layout": ["tests/unit/stages/layout", "tests/published"],
    "stages/wires": ["tests/unit/stages/wires", "tests/published"],
    "stages/clips": ["tests/unit/stages/clips", "tests/published"],
    "stages/takeoff": ["tests/unit/stages/takeoff", "tests/published"],
    "stages/work": ["tests/unit/stages/work", "tests/published"],
    "stages/compare": ["tests/unit/stages/compare", "tests/published"],
    "stages/study": ["tests/unit/stages/study", "tests/published"],
}
EXAMPLES = "tests/unit/house/test_doctests.py"
SWAPS = [
    *(
        f"ReplaceBinaryOperator_{swap}"
        for swap in ("Add_Sub", "Sub_Add", "Mul_Div", "Div_Mul", "FloorDiv_Div", "Pow_Mul")
    ),
    *(f"ReplaceBinaryOperator_{swap}" for swap in ("BitAnd_BitOr", "BitOr_BitAnd", "Mod_Mul")),
    *(f"ReplaceComparisonOperator_{swap}" for swap in ("Lt_LtE", "LtE_Lt", "Gt_GtE", "GtE_Gt", "Lt_GtE", "Gt_LtE")),
    *(
        f"ReplaceComparisonOperator_{swap}"
        for swap in ("LtE_Gt", "GtE_Lt", "Eq_NotEq", "NotEq_Eq", "Is_IsNot", "IsNot_Is")
    ),
    *(f"ReplaceUnaryOperator_{swap}" for swap in ("USub_UAdd", "Delete_Invert", "Delete_Not")),
    "NumberReplacer",
    "ReplaceAndWithOr",
    "ReplaceOrWithAnd",
    "ReplaceTrueWithFalse",
    "ReplaceFalseWithTrue",
]
TEST_LIBRARIES = ("fiona", "hypothesis", "mpmath", "formulas", "openpyxl", "click.testing", "scipy.optimize")
NOT_COPIED = (".git", ".venv", ".*cache", ".hypothesis", "__pycache__", "node_modules", "outputs")
TIMES, MORE_S = 4.0, 10.0
QUIET = ["-x", "-q", "-n0", "-p", "no:cacheprovider"]


@dataclass(frozen=True)
class Mutant:
    """One change of one module: which swap, and at how many-th place of the file."""

    module: Path
    swap: str
    place: int


def main() -> int:
    """Run one room's sample; print the mutants that live and the score."""
    words = argparse.ArgumentParser(description="Run a seeded sample of mutants of a room against that room's tests.")
    words.add_argument("room", choices=ROOMS)
    words.add_argument("--sample", type=int, default=80, help="how many mutants (default 80)")
    words.add_argument("--seed", type=int, default=1, help="which sample (default 1)")
    words.add_argument("--file", default="", help="only modules whose name has this in it")
    said = words.parse_args()
    folder, tests = f"pipeline/wirerun/{said.room}", ROOMS[said.room]
    with tempfile.TemporaryDirectory() as copy:
        root = Path(copy)
        shutil.copytree(ROOT, root, ignore=shutil.ignore_patterns(*NOT_COPIED), dirs_exist_ok=True)
        os.chdir(root)
        sys.path.insert(0, str(root / "pipeline"))
        _import_libraries()
        reached = _reached([*tests, EXAMPLES], root / folder)
        if reached is None:
            print("the tests fail without any mutant")
            return 1
        modules = [module for module in sorted(Path(folder).glob("*.py")) if said.file in module.name]
        every = [mutant for module in modules for mutant in _of(module)]
        drawn = random.Random(said.seed)  # noqa: S311 - a sample, no secret
        chosen = drawn.sample(every, min(said.sample, len(every)))
        lives = 0
        for number, mutant in enumerate(sorted(chosen, key=lambda one: (one.module, one.swap, one.place))):
            with _in_place(mutant, number) as (line, change):
                files = reached.by(mutant.module, line)
                if not (files and _fails(files, TIMES * sum(reached.spent_s[file] for file in files) + MORE_S)):
                    lives += 1
                    print(f"lives: {mutant.module.name} {mutant.swap} {mutant.place}\n{change}", flush=True)
        print(f"{said.room}: {len(chosen) - lives} of {len(chosen)} killed, out of {len(every)}; seed {said.seed}")
    return 0


def _of(module: Path) -> list[Mutant]:
    """Every mutant of a module."""
    nodes = list(ast_nodes(get_ast(module.read_text(encoding="utf-8"))))
    places = {swap: sum(len(list(_swap(swap).mutation_positions(node))) for node in nodes) for swap in SWAPS}
    return [Mutant(module, swap, place) for swap, count in places.items() for place in range(count)]


def _swap(name: str) -> Any:  # noqa: ANN401 - cosmic-ray says no types
    return get_operator(f"core/{name}")()


@contextlib.contextmanager
def _in_place(mutant: Mutant, number: int) -> Iterator[tuple[int, str]]:
    """Put the mutant into its file for a while; gives the number of the first changed line, and the lines."""
    before = mutant.module.read_text(encoding="utf-8")
    after = mutate_code(before, _swap(mutant.swap), mutant.place)
    written = mutant.module.stat().st_mtime_ns
    mutant.module.write_text(after, encoding="utf-8")
    # A time of its own: compiled files are told apart by second and size, which two mutants may share.
    moment = written + (number + 1) * 1_000_000_000
    os.utime(mutant.module, ns=(moment, moment))
    old, new = before.splitlines(), after.splitlines()
    line = next(at for at, (was, is_) in enumerate(zip(old, new, strict=False), 1) if was != is_)
    change = difflib.unified_diff(old, new, lineterm="", n=0)
    try:
        yield line, "\n".join(text for text in change if text[:3] not in ("---", "+++"))
    finally:
        mutant.module.write_text(before, encoding="utf-8")
        os.utime(mutant.module, ns=(written, written))


@dataclass(frozen=True)
class Reached:
    """Which files of tests run which lines of which module, "" where it is imported; and the time of each [s]."""

    files: dict[str, dict[str, list[str]]]
    spent_s: dict[str, float]

    def by(self, module: Path, line: int) -> list[str]:
        """The files that a mutant in this line is to meet, in the order in which it is to meet them."""
        lines = self.files.get(str(module), {})
        run = {file for at in _statement(module, line) for file in lines.get(str(at), [])}
        if "" in run:
            run = {file for some in lines.values() for file in some if file} or set(self.spent_s)
        return sorted(run, key=lambda file: self.spent_s[file])


def _statement(module: Path, line: int) -> range:
    """The lines of the innermost statement about a line; of a compound one its head."""
    tree = ast.parse(module.read_text(encoding="utf-8"))
    about = [
        (min([node.lineno, *(word.lineno for word in getattr(node, "decorator_list", []))]), node)
        for node in ast.walk(tree)
        if isinstance(node, ast.stmt)
    ]
    first, inner = max(
        ((first, node) for first, node in about if first <= line <= (node.end_lineno or line)), key=lambda one: one[0]
    )
    body = getattr(inner, "body", [])
    return range(first, body[0].lineno if body else (inner.end_lineno or line) + 1)


def _reached(tests: list[str], folder: Path) -> Reached | None:
    """Run the tests without a mutant and watch what they run; None where one fails."""
    told = Path("reached.json")

    def watched() -> int:
        watch = coverage.Coverage(data_file=None, include=[f"{folder}/*"], config_file=False)
        by_file = _ByFile(watch)
        watch.start()
        code = int(pytest.main([*QUIET, *tests], plugins=[by_file]))
        watch.stop()
        data = watch.get_data()
        files = {
            str(Path(name).relative_to(Path.cwd())): data.contexts_by_lineno(name) for name in data.measured_files()
        }
        told.write_text(json.dumps({"files": files, "spent_s": by_file.spent_s}), encoding="utf-8")
        return code

    return None if _forked(watched, 3600.0) else Reached(**json.loads(told.read_text(encoding="utf-8")))


class _ByFile:
    """Says to the watch which file of tests runs, and sums up its processor time."""

    def __init__(self, watch: coverage.Coverage) -> None:
        self.watch, self.spent_s = watch, dict[str, float]()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        file, began_s = item.nodeid.split("::")[0], time.process_time()
        self.watch.switch_context(file)
        try:
            return (yield)
        finally:
            self.watch.switch_context("")
            self.spent_s[file] = self.spent_s.get(file, 0.0) + time.process_time() - began_s


def _fails(tests: list[str], limit_s: float) -> bool:
    """Whether a test fails, or they take more processor time than the limit."""
    return _forked(lambda: int(pytest.main([*QUIET, *tests])), limit_s)


def _forked(work: Callable[[], int], limit_s: float) -> bool:
    """Whether work in a fork of this process, that says nothing, comes to another code than 0 or to no end in time."""
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s) + 1, int(limit_s) + 1))
        out = os.open(os.devnull, os.O_WRONLY)
        os.dup2(out, 1)
        os.dup2(out, 2)
        code = 1
        try:
            code = work()
        finally:
            os._exit(code and 1)
    return os.waitpid(child, 0)[1] != 0


def _import_libraries() -> None:
    """Import what the package and the tests take, and forget the package: each run is to import it with its mutant."""
    for library in TEST_LIBRARIES:
        importlib.import_module(library)
    package = importlib.import_module("wirerun")
    for module in pkgutil.walk_packages(package.__path__, "wirerun."):
        if module.name != "wirerun.__main__":
            importlib.import_module(module.name)
    for name in [name for name in sys.modules if name.partition(".")[0] == "wirerun"]:
        del sys.modules[name]


if __name__ == "__main__":
    sys.exit(main())
