"""The order of work: what must come before what, and that the README tells the same."""

from pathlib import Path

from wirerun.rules.order_of_work import STRAIN, TASKS
from wirerun.settings.catalogue import TASKS as RATED

ROOT = Path(__file__).parents[3]
NAMES = [task.name for task in TASKS]


def test_the_wire_is_in_its_clips_before_it_is_strained() -> None:
    """Posts, clips, wire into the clips, one end, strain, tie, drive home, check: common practice with clips.

    The tension of the config is that of the wire in its clips; strained before, it ends at several times that.
    """
    order = [
        *("set posts", "set end posts", "clips and staples", "run out", "fix one end"),
        *("tension", "tie off", "drive home", "adjusters", "check"),
    ]
    assert [name for name in NAMES if name in order] == order
    # What the order does not name: the staples of the wire's ends go in before the wire, joins before it is pulled.
    assert NAMES.index("end staples") < NAMES.index("run out") < NAMES.index("join") < NAMES.index("fix one end")


def test_every_task_stands_there_once_and_every_rate_has_its_task() -> None:
    assert len(set(NAMES)) == len(NAMES)
    assert set(RATED) <= set(NAMES)


def test_whoever_strains_is_told_when() -> None:
    assert STRAIN == "Strain only when the wire is in every clip."
    assert {task.name for task in TASKS if task.note == STRAIN} == {"tension"}


def test_the_readme_tells_the_same_order() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    reference = (ROOT / "pipeline" / "REFERENCE.md").read_text("utf-8")
    (line,) = (line for line in reference.splitlines() if line.startswith("| order of work |"))
    assert line.split("|")[2].strip().split(", ") == NAMES
    assert STRAIN in readme
