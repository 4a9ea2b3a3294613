"""Ground from a surface by two packages for any terrain, side by side with our own; run by a Python that has them.

``python tests/benchmarks/other_filters.py FOLDER`` turns each ``NAME.npy`` in the folder (a surface, rows from the
north, its side of a cell in ``NAME.txt``) into ``made/NAME-WAY.npy``: heights of dsm2dtm, which cells are ground of the
cloth (Zhang et al. 2016, Remote Sens. 8, 501). Needs numpy, dsm2dtm 0.4.0 and cloth-simulation-filter 1.1.7
and nothing of ours, so that they never become a dependency: a way whose package is not there is left out.
"""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

_RADII_M = (2.0, 4.0, None)  # None: as it comes, 40 m
# (rigidness, distance from the cloth that is ground [m]); cells of 0.5 m, slopes smoothed as its authors advise.
_CLOTHS = ((1, 0.1), (1, 0.2), (2, 0.2), (3, 0.2))
_CLOTH_CELL_M = 0.5


def ways() -> Iterator[tuple[str, Callable[[np.ndarray, float], np.ndarray]]]:
    """Yield the ways whose packages are here."""
    try:
        from dsm2dtm.algorithm import dsm_to_dtm  # noqa: PLC0415
    except ImportError:
        print("dsm2dtm: not importable, left out")
    else:
        for radius in _RADII_M:

            def opened(surface: np.ndarray, cell_m: float, radius: float | None = radius) -> np.ndarray:
                more = {} if radius is None else {"kernel_radius_meters": radius}
                low = surface.min()  # it works in 32 bits
                return np.asarray(low + dsm_to_dtm(surface - low, (cell_m, cell_m), **more).astype(np.float64))

            yield f"dsm2dtm {'as it comes' if radius is None else f'{radius:g} m'}", opened
    try:
        import CSF  # noqa: PLC0415
    except ImportError:
        print("cloth-simulation-filter: not importable, left out")
        return
    for rigid, near in _CLOTHS:

        def cloth(surface: np.ndarray, cell_m: float, rigid: int = rigid, near: float = near) -> np.ndarray:
            down, right = np.indices(surface.shape)
            way = CSF.CSF()
            way.params.bSloopSmooth = True
            way.params.cloth_resolution = _CLOTH_CELL_M
            way.params.rigidness = rigid
            way.params.class_threshold = near
            way.setPointCloud(np.column_stack([right.ravel() * cell_m, -down.ravel() * cell_m, surface.ravel()]))
            ground, rest = CSF.VecInt(), CSF.VecInt()
            way.do_filtering(ground, rest, False)  # noqa: FBT003 - its third word has no name
            there = np.zeros(surface.size, dtype=bool)
            there[np.array(ground, dtype=np.int64)] = True
            return there.reshape(surface.shape)

        yield f"cloth {rigid}, {near:g} m", cloth


def main() -> None:
    """Go through the folder."""
    folder = Path(sys.argv[1])
    made = folder / "made"
    made.mkdir()
    for name, way in ways():
        for file in sorted(folder.glob("*.npy")):
            cell_m = float(file.with_suffix(".txt").read_text())
            np.save(made / f"{file.stem}-{name}.npy", way(np.load(file), cell_m))


if __name__ == "__main__":
    main()
