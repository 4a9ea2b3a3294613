"""The order in which a row is built: hours, programme, map and cards all follow it.

The tension of the config is that of a wire in its clips. Strained before, a wire is straight over the crests, metres
above its clips; drawn down into them with its ends fast, it ends at several times that tension, past what its knot or
the wire itself bears. So clips first, the wire into them as it is run out, and only then is it strained (*common
practice* with clips; *choice* for where the rest stands).
"""

from dataclasses import dataclass
from typing import Final

#: Tasks of a post beside setting it; others may do them, and without a rate they are none of the crew's.
FOR_POSTS: Final = ("set out and peg", "carry out posts")
#: What stands wherever somebody may be about to strain a wire.
STRAIN: Final = "Strain only when the wire is in every clip."


@dataclass(frozen=True, slots=True)
class Task:
    """A task of the work on a row.

    Attributes
    ----------
    name : str
        What is done.
    unit : str
        What it is counted in, unless the catalogue's rate says otherwise.
    passes, passes_per_line : int
        How often one walks along the row for it, and how often for every line of wire (choice).
    note : str
        What to mind at it.
    """

    name: str
    unit: str
    passes: int = 0
    passes_per_line: int = 0
    note: str = ""


#: Two lines of a wire, each whole from a coil of its own, may be run out in one walk.
RUN_OUT: Final = Task("run out", "100 m of wire", passes_per_line=2, note="Into its clips, post by post.")

#: In working order. One walks there and back for what is done at both ends, and for every line that is run out; the end
#: that is fixed first and the one that is tied off are one pass each, and staples are driven home on the way back.
#: Clips and staples take a pass along each side that has a line. Joins are made where one stands when a coil runs out.
TASKS: Final = (
    Task("set out and peg", "post", passes=1),
    Task("carry out posts", "post", passes=2),
    Task("set posts", "post", passes=1),
    Task("set end posts", "post", passes=1),
    Task("end assemblies", "end", note="Picked, not sized: a competent person sizes anchors and braces."),
    Task("clips and staples", "piece", note="Drive staples loosely: the wire has to go through."),
    Task("end staples", "wire end", passes=2),
    Task("carry coils", "coil"),
    RUN_OUT,
    Task("join", "join"),
    Task("fix one end", "wire end", passes=1),
    Task("tension", "line", passes=2, note=STRAIN),
    Task("tie off", "wire end", passes=1),
    Task("drive home", "staple", note="The wire must still slide."),
    Task("adjusters", "adjuster", passes=2, note="Where one is, it goes on before the strainer is let go."),
    Task("check", "row", passes=1),
)
