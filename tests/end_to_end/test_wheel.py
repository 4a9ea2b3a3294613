"""A wheel has everything that a checkout has: the code, the page of the map, the default catalogue."""

import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path, PurePosixPath

import pytest
from wirerun.errors import Faults
from wirerun.read.catalogue import read_catalogue

ROOT = Path(__file__).parents[2]
CATALOGUE = ROOT / "configs" / "catalogue"

# Run where nothing of the checkout is at hand; says where the package was found, and what it reads.
READ = """
from pathlib import Path
import wirerun
from wirerun.errors import Faults
from wirerun.read.catalogue import read_catalogue
faults = Faults()
print(Path(wirerun.__file__).parent)
print(read_catalogue(None, Path("nowhere"), faults))
print(list(faults))
"""


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a copy of the checkout, and the wheel built from it, unzipped.

    A build in the checkout itself would leave its folders there.
    """
    folder = tmp_path_factory.mktemp("wheel")
    copy = folder / "copy"
    copy.mkdir()
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, copy)
    for name in ("pipeline", "configs"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    command = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(folder), "."]
    done = subprocess.run(command, cwd=copy, capture_output=True, text=True, check=False)  # noqa: S603 - our own words
    if "No matching distribution found for setuptools" in done.stderr and not os.environ.get("CI"):
        pytest.skip("the wheel could not be built: no network?")
    assert done.returncode == 0, done.stderr
    (wheel,) = folder.glob("wirerun-*.whl")
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(folder / "unzipped")
    return folder


def files_in(folder: Path) -> dict[PurePosixPath, bytes]:
    return {
        PurePosixPath(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def test_the_project_file_names_every_folder_of_the_package() -> None:
    named = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]["packages"]
    folders = {path.parent.relative_to(ROOT / "pipeline") for path in (ROOT / "pipeline").rglob("*") if path.is_file()}
    there = {".".join(folder.parts) for folder in folders if folder.parts[:1] == ("wirerun",)}
    there = {name for name in there if "__pycache__" not in name}
    assert sorted(named) == sorted(there | {"wirerun.default_catalogue"})


def test_every_file_of_the_package_is_in_the_wheel_and_no_other(built: Path) -> None:
    """Of every folder: code, and what the page of the map is made of."""
    package = files_in(built / "copy" / "pipeline" / "wirerun")
    assert {".py", ".js", ".css", ".html"} <= {path.suffix for path in package}
    catalogue = {PurePosixPath("default_catalogue") / path.name: path.read_bytes() for path in CATALOGUE.glob("*.csv")}
    assert len(catalogue) == 10
    assert files_in(built / "unzipped" / "wirerun") == package | catalogue


def test_the_checkout_has_one_catalogue_only() -> None:
    assert not (ROOT / "pipeline" / "wirerun" / "default_catalogue").exists()


def test_the_wheel_alone_reads_the_same_catalogue(built: Path, tmp_path: Path) -> None:
    done = subprocess.run(  # noqa: S603 - our own words
        [sys.executable, "-c", READ],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(built / "unzipped")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found, rows, faults = done.stdout.splitlines()
    assert Path(found) == built / "unzipped" / "wirerun"
    assert rows == str(read_catalogue(None, Path("nowhere"), Faults()))
    assert faults == "[]"
