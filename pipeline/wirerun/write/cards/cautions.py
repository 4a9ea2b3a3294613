"""What the first sheet says in words: cautions, how to read the figures, and how tension is checked.

The habits of wire work are those of FISA 104 (Forest Industry Safety Accord, Fencing, 41 to 49; read where it is
quoted): one end first, two full turns on a barrel, nobody astride, ends secured. The others are *common practice*.
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
    "Ends: latitude and longitude of the first and the last post, WGS 84, for a receiver; posts.csv has them all.",
    "Tape: what it reads at the middle of each post laid on the ground from P001. Out, deep: above and below it.",
    "Run out: lines \N{MULTIPLICATION SIGN} length of each, tails and adjuster included.",
    "Two lines of a wire hang on the two sides of the post, each in clips of its own.",
    "Coil: C001 0.0\N{EN DASH}18.0\N{EN DASH}36.0: the first line is cut when 18.0 has run off, the next at 36.0.",
    "Tag a coil with its name when you open it, and keep on the tag how much has run off.",
    "+ goes on with a further length; join: how far from P001 along the row, and between which posts.",
    "Set: the tension at P001. Strain there, the far end fixed first, unless the card says otherwise.",
    "On a warmer or colder day set the tension of that temperature's column.",
    "Adjuster: its kind, at which end (start is P001), and how far it must be wound in, for that is let out in winter.",
)

CHECKS: Final = (
    "Take the column of the temperature nearest to the wire's; between two temperatures, read between the two columns.",
    "The wire is as warm as the air at dawn and under cloud, when it is best checked; in the sun it is warmer.",
    "Gauge: a lath with a rest at each end, {base} apart, held against the wire in the row's middle span.",
    "With a spring balance draw the wire {push} out of its line at the lath's middle, and read; twice.",
    "Right between the sheet's two readings: at the lower the wire slides in its clips, at the higher it sticks.",
    "Below both it is too slack, above both too tight.",
    "How sure: the readings lie {band} apart, and {off} off in drawing makes another {push_error}.",
    "Pull: how far the strainer takes the wire from straight and slack to the set tension. The gauge decides.",
)

ROUNDING: Final = (
    "Figures are the schedule's, rounded: wire, what has run off and joins to {wire}, stations to {place}, tension to "
    "{force}, gauge readings to {reading} (rows that are alike are told as one), take-up and pull to {small}."
)
