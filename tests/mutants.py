"""How many small faults the tests of a room find: a seeded sample of mutants, each run against that room's own tests.

    python tests/mutants.py mechanics --sample 80 --seed 1

Wants the `mutants` extra and a system that can fork. A mutant is one operator, comparison, number, `and`, `or`, `not`,
`True` or `False` of the room's modules changed, by cosmic-ray. Swaps that nearly any run notices (`+` to `>>`) are left
out: they would flatter the score. Tests are the room's unit tests, those that import from the mutant's module first,
and the published ones; never whole plans. A mutant is killed where a test fails, or where the tests take four times
the processor time that they take without it, and ten seconds more.

Works on a copy in a temporary folder. The libraries are imported once, and each mutant runs in a fork of that process.
"""

import argparse
import contextlib
import difflib
import importlib
import os
import random
import re
import resource
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import mutate_code
from cosmic_ray.plugins import get_operator

ROOT = Path(__file__).parent.parent
#: Room, and what is run against it. A rule serves stages and writers: their tests are its tests too.
ROOMS = {
    "mechanics": ["tests/unit/mechanics", "tests/published"],
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
LIBRARIES = ("numpy", "scipy.optimize", "scipy.ndimage", "scipy.spatial", "pandas", "geopandas", "shapely", "rasterio")
TEST_LIBRARIES = ("fiona", "pydantic", "hypothesis", "mpmath")
NOT_COPIED = (".git", ".venv", ".*cache", ".hypothesis", "__pycache__", "node_modules", "outputs")
TIMES, MORE_S = 4.0, 10.0


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
        for library in (*LIBRARIES, *TEST_LIBRARIES):
            importlib.import_module(library)
        failed, spent_s = _run(tests, 3600.0)
        if failed:
            print("the tests fail without any mutant")
            return 1
        limit_s = TIMES * spent_s + MORE_S
        modules = [module for module in sorted(Path(folder).glob("*.py")) if said.file in module.name]
        every = [mutant for module in modules for mutant in _of(module)]
        drawn = random.Random(said.seed)  # noqa: S311 - a sample, no secret
        chosen = drawn.sample(every, min(said.sample, len(every)))
        lives = 0
        for number, mutant in enumerate(sorted(chosen, key=lambda one: (one.module, one.swap, one.place))):
            with _in_place(mutant, number) as change:
                own = _own(mutant.module, tests[0])
                if not (own and _run(own, limit_s)[0]) and not _run(tests, limit_s)[0]:
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


def _own(module: Path, folder: str) -> list[str]:
    """The test files that import from the module."""
    named = re.compile(rf"\b{module.stem} import|import {module.stem}\b")
    return [str(file) for file in sorted(Path(folder).glob("test_*.py")) if named.search(file.read_text("utf-8"))]


@contextlib.contextmanager
def _in_place(mutant: Mutant, number: int) -> Iterator[str]:
    """Put the mutant into its file for a while; gives the changed lines."""
    before = mutant.module.read_text(encoding="utf-8")
    after = mutate_code(before, _swap(mutant.swap), mutant.place)
    written = mutant.module.stat().st_mtime_ns
    mutant.module.write_text(after, encoding="utf-8")
    # A time of its own: compiled files are told apart by second and size, which two mutants may share.
    moment = written + (number + 1) * 1_000_000_000
    os.utime(mutant.module, ns=(moment, moment))
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
    try:
        yield "\n".join(line for line in lines if line[:3] not in ("---", "+++"))
    finally:
        mutant.module.write_text(before, encoding="utf-8")
        os.utime(mutant.module, ns=(written, written))


def _run(tests: list[str], limit_s: float) -> tuple[bool, float]:
    """Whether a test fails, or they take more processor time than the limit; and the time they took [s]."""
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s) + 1, int(limit_s) + 1))
        out = os.open(os.devnull, os.O_WRONLY)
        os.dup2(out, 1)
        os.dup2(out, 2)
        code = pytest.main(["-x", "-q", "-n0", "-p", "no:cacheprovider", *tests])
        os._exit(0 if code == 0 else 1)
    _, status, used = os.wait4(child, 0)
    return status != 0, used.ru_utime + used.ru_stime


if __name__ == "__main__":
    sys.exit(main())
