"""What the first sheet says in words: cautions, how to read the figures, and how tension is checked.

The habits of wire work are those of FISA 104 (Forest Industry Safety Accord, on fencing), *from memory*; the others are
*common practice*.
"""

from typing import Final

from wirerun.rules.order_of_work import STRAIN

CAUTIONS: Final = (
    "Wire under tension can cut and kill. Wear eye protection, with slack wire too.",
    f"Fix one end first, then strain. {STRAIN}",
    "Nobody stands astride a wire under tension, or in line with it.",
    "Keep two full turns on a barrel.",
    "Before you cut a wire, secure both sides of the cut.",
    "Before driving posts, find out about buried services and overhead lines.",
    "Slope classes sort the work. They are no safety determination for machines or people.",
    "End assemblies and anchors are for a competent person to size.",
    "Local codes and licensed practice decide.",
)

READING: Final = (
    "Strip: the row from its right-hand side, P001 left. Heights may be stretched; the card says how much.",
    "Run out: lines \N{MULTIPLICATION SIGN} length of each, knots and adjuster included.",
    "Coil: what each line is cut from, and the metres run off it before and after; keep them on its tag.",
    "+ goes on with a further length; join: how far from P001 along the row, and between which posts.",
    "Set: the tension at P001, and from where to strain. On a warmer or colder day take the check's tension instead.",
    "Adjuster: its kind, at which end (start is P001), and how much it takes up.",
)

CHECKS: Final = (
    "Take the line of the temperature nearest to the wire's; between two temperatures, read between the two lines.",
    "Give: at mid-span, pull the wire sideways with {force} (spring balance) and measure how far it gives.",
    "More than the card says: too slack. Less: too tight, or the wire sticks in its clips; free it and pull again.",
    "Sag: how far mid-span hangs below the straight line between the clips. A few millimetres only; trust the give.",
)

ROUNDING: Final = (
    "Figures are the schedule's, rounded: wire, metres run off and joins to 0.1 m, tension to 1 N, give to 1 mm, sag "
    "to 0.1 mm."
)
