"""An estate on a cluster: a scheduler and two workers, processes of their own, one of them killed in the middle."""

import importlib.util
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from wirerun.cli import main
from wirerun.errors import Exit

if TYPE_CHECKING:
    from tests.conftest import Estate

BLOCKS = {
    f"B{number}": [(left, -14.0), (left + 26.0, -17.0), (left + 24.0, 10.0), (left + 2.0, 12.0)]
    for number, left in enumerate((-70.0, -40.0, -10.0, 20.0), start=1)
}
CONFIG = (
    'name = "estate"\n[block]\nboundary = "block.geojson"\nid_field = "block"\n[elevation]\nraster = "ground.tif"\n'
    "[rows]\nbearing_deg = 90.0\nspacing_m = 4.0\n"
)
needs_library = pytest.mark.skipif(importlib.util.find_spec("distributed") is None, reason="distributed is missing")


@pytest.fixture
def four(make_estate: Callable[..., "Estate"]) -> "Estate":
    made = make_estate(**BLOCKS)
    (made.folder / "estate.toml").write_text(CONFIG)
    return made


def run(estate: "Estate", out: str, *words: str) -> str:
    target = ["--out", str(estate.folder / out)]
    done = CliRunner().invoke(main, ["estate", str(estate.folder / "estate.toml"), *target, *words])
    assert done.exit_code == Exit.GOOD, done.stderr
    return done.stderr


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Return the address of a scheduler, and its two workers."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    address = f"tcp://127.0.0.1:{port}"
    scheduler = ["distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", port, "--no-dashboard"]
    worker = ["distributed.cli.dask_worker", address, "--no-nanny", "--nthreads", "1", "--no-dashboard"]
    started = [
        subprocess.Popen(  # noqa: S603 - our own words
            [sys.executable, "-m", *words], cwd=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        for words in (scheduler, worker, worker)
    ]
    try:
        _wait_for_two(address)
        yield address, started[1:]
    finally:
        for process in started:
            process.kill()
            process.wait()


def _wait_for_two(address: str) -> None:
    from distributed import Client  # noqa: PLC0415 - an extra

    with Client(address, timeout=60, set_as_default=False) as client:
        client.wait_for_workers(2, timeout=120)


@needs_library
def test_one_worker_is_killed_and_nothing_is_missing(
    four: "Estate", cluster: tuple[str, list[subprocess.Popen[bytes]]]
) -> None:
    """The same bytes as in one process."""
    run(four, "here")
    address, workers = cluster
    words = [sys.executable, "-m", "wirerun", "estate", str(four.folder / "estate.toml"), "--scheduler", address]
    there = four.folder / "there"
    with subprocess.Popen([*words, "--out", str(there)], stderr=subprocess.PIPE, text=True) as running:  # noqa: S603
        for _ in range(1200):  # until one block is done: each worker has another in hand then
            if any((there / "blocks").glob("B*/run.json")) or running.poll() is not None:
                break
            time.sleep(0.1)
        workers[0].kill()
        workers[0].wait()  # until then it counts as a process that lives, and what it left is not tidied away
        _, said = running.communicate(timeout=300)
    assert running.returncode == Exit.GOOD, said
    whole = {path.relative_to(four.folder / "here") for path in (four.folder / "here").rglob("*") if path.is_file()}
    assert whole == {path.relative_to(there) for path in there.rglob("*") if path.is_file()}
    assert [
        path for path in sorted(whole) if (four.folder / "here" / path).read_bytes() != (there / path).read_bytes()
    ] == []


@needs_library
def test_nobody_there(four: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wirerun.cluster._PATIENCE_S", 1)
    target = ["--out", str(four.folder / "out"), "--scheduler", "tcp://127.0.0.1:9"]
    done = CliRunner().invoke(main, ["estate", str(four.folder / "estate.toml"), *target])
    assert done.exit_code == Exit.USAGE
    assert "error: no scheduler answers at tcp://127.0.0.1:9" in done.stderr


def test_without_the_library(four: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    target = ["--out", str(four.folder / "out"), "--scheduler", "tcp://127.0.0.1:9"]
    done = CliRunner().invoke(main, ["estate", str(four.folder / "estate.toml"), *target])
    assert done.exit_code == Exit.USAGE
    assert "pip install 'wirerun[cluster]'" in done.stderr
