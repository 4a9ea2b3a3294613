"""Seconds to outline the zones of a block: bands between midlines beside cells of nearest ground, and their ratio.

Run: ``python tests/benchmarks/bench_zones.py``; sizes in hectares may follow. Square blocks of straight rows 2.4 m
apart, cut by a track, two rows to a zone. The second way is the one for curves: it takes the same rows, each with a
bend of a centimetre. Processor time, so that other work on the machine counts little.
"""

import sys
import time

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from wirerun.geometry.areas import strips
from wirerun.geometry.lines import cut_lines, from_row_axes

SPACING_M = 2.4
BEARING_DEG = 62.0
BEND_M = 0.01


def block(area_ha: float) -> tuple[BaseGeometry, BaseGeometry]:
    """Workable ground, and where rows may run in it."""
    half = 50.0 * np.sqrt(area_ha)
    ground = shapely.box(-half, -half, half, half)
    return ground, ground.buffer(-6.0).difference(shapely.LineString([(-half, -10.0), (half, 25.0)]).buffer(8.0))


def main() -> None:
    """Measure and print."""
    print("   ha  rows  zones  bands, s  cells, s  cells / bands  not the same ground, %")
    for area_ha in [float(size) for size in sys.argv[1:]] or [1.0, 16.0, 64.0]:
        within, room = block(area_ha)
        across = np.arange(-600.0, 600.0, SPACING_M)
        rows = cut_lines(room, across, BEARING_DEG)
        middle = 0.5 * (rows.start_m + rows.end_m)
        at = [
            np.column_stack(from_row_axes(along, across[rows.line] + aside, BEARING_DEG))
            for along, aside in ((rows.start_m, 0.0), (middle, BEND_M), (rows.end_m, 0.0))
        ]
        zone = np.unique(np.arange(len(middle)) // 2, return_inverse=True)[1]
        shapes, took = [], []
        for ends in (at[::2], at):
            lines = np.asarray(shapely.linestrings(np.stack(ends, axis=1)))
            start = time.process_time()
            shapes.append(np.array(strips(lines, zone, within, SPACING_M), dtype=object))
            took.append(time.process_time() - start)
        differ = shapely.area(shapely.difference(shapes[0], shapes[1])).sum() / shapely.area(shapes[0]).sum()
        print(
            f"{area_ha:5.0f} {len(middle):5d} {zone.max() + 1:6d} {took[0]:9.3f} {took[1]:9.3f} "
            f"{took[1] / took[0]:14.0f} {100.0 * differ:23.2f}"
        )


if __name__ == "__main__":
    main()
