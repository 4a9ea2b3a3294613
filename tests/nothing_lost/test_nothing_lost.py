"""Whatever stops a plan, the earlier result stands or the new one, whole. More of it by hand, see the modules."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.nothing_lost.full_disk import can_mount, mounting

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills and rights are those of POSIX")


@pytest.mark.parametrize(("command", "count"), [("plan", "12"), ("survey", "8")])
def test_killed_at_any_moment(tmp_path: Path, command: str, count: str) -> None:
    """In a process of its own: what the tests hold open must not go along into the children."""
    words = [sys.executable, "-m", "tests.nothing_lost.kills", count, command]
    done = subprocess.run(
        words, cwd=ROOT, env=os.environ | {"TMPDIR": str(tmp_path)}, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.skipif(not can_mount(), reason="no disk in memory can be mounted here")
@pytest.mark.parametrize(("command", "sizes"), [("plan", "4"), ("survey", "3")])
def test_a_full_disk(tmp_path: Path, command: str, sizes: str) -> None:
    words = [sys.executable, "-m", "tests.nothing_lost.full_disk", sizes, str(tmp_path), command, "MOUNTED"]
    done = subprocess.run(mounting(words, tmp_path), cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["wrong"] == []
    assert told["seen"]["refused"] > told["seen"]["written"] > 0


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only root can become a plain user")
def test_what_a_plain_user_may_not() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.nothing_lost.rights"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
