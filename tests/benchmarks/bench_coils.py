"""Time to cut an estate's lines from coils in working order, beside first fit in the same order, and what each takes.

Run it as a script. Five lines of wire in each row, 60 to 220 m long, coils of 648 m, a zone every four rows: 13 500
lines are about 64 ha. Both ways run in the same minutes, so that the ratio holds on any machine. The bound is reckoned
on a finer grid than a plan spends time on, where that is coarse because of many lines.
"""

import time

import numpy as np
from wirerun.optimise.coil_bound import least_cost
from wirerun.optimise.coil_order import cut_in_order
from wirerun.optimise.coil_pieces import Coil, Lines, most_in_a_zone, most_open, spent

COIL = Coil(648_000, 68.0)
JOIN, CARRY = 1.98, 0.9  # a joiner and five minutes, three minutes, as in the demo's catalogue at 18 an hour
OPEN = 2
CELLS = 220


def estate(rng: np.random.Generator, count: int) -> Lines:
    """Lines of rows in working order."""
    rows = rng.uniform(60.0, 220.0, (count // 5, 1)) * (1.0 + rng.uniform(0.0, 0.002, (count // 5, 5)))
    length = np.rint(1000.0 * rows.ravel()).astype(np.int64)
    zone = np.arange(len(length)) // 20
    return Lines(
        length,
        zone,
        np.full(len(length), JOIN),
        np.full(len(length), CARRY),
        np.zeros(len(length), dtype=bool),
        np.zeros(len(length)),
    )


def first_fit(lines: Lines) -> int:
    """Coils, each line cut whole from the first open coil that still takes it, the two newest kept open."""
    rooms: list[int] = []
    coils = 0
    for length in lines.length_mm.tolist():
        at = next((number for number, room in enumerate(rooms) if room >= length), None)
        if at is None:
            coils += 1
            rooms = [*rooms, COIL.length_mm - length][-OPEN:]
        else:
            rooms[at] -= length
    return coils


def main() -> None:
    """Print a line for each size."""
    rng = np.random.default_rng(1)
    print("lines   seconds  first fit  coils  least  first fit  joins  open  in a zone  over the bound")
    for count in (700, 3_500, 13_500):
        lines = estate(rng, count)
        start = time.process_time()
        cut = cut_in_order(lines, COIL, most_open=OPEN, joins=True, end_piece_mm=20_000)
        middle = time.process_time()
        plain = first_fit(lines)
        seconds, other = middle - start, time.process_time() - middle
        bound = max(least_cost(lines, COIL, most_open=OPEN, joins=True, cells=cells) for cells in (None, CELLS))
        least = -(-int(lines.length_mm.sum()) // COIL.length_mm)
        over = spent(cut.pieces, lines, COIL) / bound - 1.0
        print(
            f"{count:6d} {seconds:8.2f} {other:10.4f} {cut.pieces.coils:6d} {least:6d} {plain:10d} "
            f"{cut.pieces.joins:6d} {most_open(cut.pieces):5d} {most_in_a_zone(cut.pieces, lines):10d} {over:14.2%}"
        )


if __name__ == "__main__":
    main()
