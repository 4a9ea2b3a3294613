"""How a broken wire is mended: how long a piece, what joins it, and what to mind.

A wire that was strung once has no length to spare: where it lacks a decimetre for a join, a row of 100 m of 2.5 mm wire
is a newton tighter for every 0.1 mm. So a piece is put in, and what is cut off and lies double in the joins is made
good. The habits of wire work are those of FISA 104 (Forest Industry Safety Accord, Fencing, 41 to 49; read where it is
quoted): two full turns on a barrel, nobody astride, ends secured. The others are *common practice*.
"""

from typing import Final, NamedTuple

from wirerun.rules.wire_work import cheapest_end
from wirerun.settings import Catalogue, RepairSettings, WireSettings
from wirerun.settings.catalogue import WireEndItem

#: What stands with every repair.
CAUTIONS: Final = (
    "Wire under tension can cut and kill. Wear eye protection and gloves, with slack wire too.",
    "A broken wire may still hang in its clips under tension: free it clip by clip from the break outwards.",
    "Stand beside the row, never in line with a wire under tension or astride it.",
    "Before you cut or join, hold both sides of the break with a grip each, secured to a post.",
    "One person strains. All others keep out of the two alleys beside the row and away from both its ends.",
    "Keep two full turns on a barrel.",
    "Look why it broke. Where it is rusted or drawn thin, renew the line: a join does not help it.",
    "End posts and anchors that have moved are for a competent person. Local codes and licensed practice decide.",
)


class Join(NamedTuple):
    """What two lengths are joined with: the item, how far they lie past each other [m], and what it bears [N]."""

    item: WireEndItem | None
    overlap_m: float
    bears_n: float


def join_of(wire: WireSettings, catalogue: Catalogue, repair: RepairSettings) -> Join:
    """Join of a wire: the cheapest of the catalogue; where that does not say what it bears, as much as an end knot.

    Parameters
    ----------
    wire : WireSettings
        With its breaking load.
    catalogue : Catalogue
        What joins there are.
    repair : RepairSettings
        The overlap where the catalogue is silent.
    """
    item = cheapest_end(catalogue.wire_ends, "join")
    overlap = repair.overlap_m if item is None or item.overlap_mm is None else item.overlap_mm / 1000.0
    share = wire.knot_efficiency if item is None or item.strength_share is None else item.strength_share
    return Join(item, overlap, share * wire.strength_n)


def piece_m(missing_m: float, cut_back_m: float, overlap_m: float) -> float:
    """Length of the piece between two joins that leaves a wire as long as it was [m].

    Near part a - c, far part b - c, with a + b + missing the whole; each of two joins takes one overlap off the sum.
    Nothing missing, half a metre cut off on each side, 15 cm in each join:

    >>> round(piece_m(0.0, 0.5, 0.15), 2)
    1.3
    """
    return missing_m + 2.0 * (cut_back_m + overlap_m)


def end_piece_m(missing_m: float, cut_back_m: float, overlap_m: float, tail_m: float) -> float:
    """Length of the piece from one join to a new knot at the end post, its tail among it [m].

    >>> round(end_piece_m(0.2, 0.5, 0.15, 0.5), 2)
    1.35
    """
    return missing_m + cut_back_m + overlap_m + tail_m
