"""The reliability diagram: how often a two-way clip was truly needed, against the probability that was said."""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

EDGES: Final = np.array([0.0, 0.05, 0.2, 0.35, 0.5, 0.65, 0.8, 0.95, 1.0 + 1e-12])
# Where 0 % and 100 % lie, across and down. [px]
_LEFT, _RIGHT, _TOP, _BOTTOM = 60.0, 340.0, 20.0, 300.0
_TICKS: Final = (0, 25, 50, 75, 100)
# A dark blue disc and a hollow orange square, of the Okabe-Ito colours: told apart without colour as well.
_MARKS: Final = (
    ('<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="#0072B2"/>', "#0072B2", ""),
    (
        '<rect x="{x0:.1f}" y="{y0:.1f}" width="9" height="9" fill="#fff" stroke="#B65000" stroke-width="2"/>',
        "#B65000",
        ' stroke-dasharray="5 4"',
    ),
)


class Line(NamedTuple):
    """One way of telling: its name, what it said and what was true, of each class of probabilities."""

    name: str
    said: Array
    true: Array

    @classmethod
    def of(cls, name: str, said: Array, true: NDArray[np.bool_]) -> "Line":
        """Return the means of each class that has any post."""
        which = np.digitize(said, EDGES) - 1
        some = np.unique(which)
        return cls(
            name, *(np.array([each[which == at].mean() for at in some], dtype=np.float64) for each in (said, true))
        )


def diagram(lines: Sequence[Line], title: str) -> str:
    """Return an SVG picture of up to two lines; on the diagonal what is said is true."""
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 600 350" width="600" height="350">',
        '<g font-family="sans-serif" font-size="13" fill="#222">',
        f"<title>{title}</title>",
        '<rect width="600" height="350" fill="#fff"/>',
        f'<path d="M{_LEFT} {_BOTTOM}L{_RIGHT} {_TOP}" stroke="#999"/>',
        f'<path d="M{_LEFT} {_TOP}V{_BOTTOM}H{_RIGHT}" fill="none" stroke="#222"/>',
        f'<text x="{(_LEFT + _RIGHT) / 2}" y="342" text-anchor="middle">said: a two-way clip is needed, %</text>',
        f'<text transform="rotate(-90)" x="{-(_TOP + _BOTTOM) / 2}" y="18" text-anchor="middle">truly needed, %</text>',
        f'<text x="{_RIGHT + 8}" y="{_TOP + 4}" fill="#666">said is true</text>',
    ]
    for tick in _TICKS:
        x, y = _at(tick / 100.0, tick / 100.0)
        parts.append(f'<text x="{x}" y="{_BOTTOM + 18}" text-anchor="middle">{tick}</text>')
        parts.append(f'<text x="{_LEFT - 6}" y="{y + 4}" text-anchor="end">{tick}</text>')
    for number, (line, (mark, colour, dash)) in enumerate(zip(lines, _MARKS, strict=False)):
        at = [_at(said, true) for said, true in zip(line.said, line.true, strict=True)]
        path = "L".join(f"{x:.1f} {y:.1f}" for x, y in at)
        parts.append(f'<path d="M{path}" fill="none" stroke="{colour}" stroke-width="1.5"{dash}/>')
        legend = (_RIGHT + 20.0, 130.0 + 26.0 * number)
        parts += [mark.format(x=x, y=y, x0=x - 4.5, y0=y - 4.5) for x, y in (*at, legend)]
        parts.append(f'<text x="{legend[0] + 14}" y="{legend[1] + 4}">{line.name}</text>')
    return "\n".join((*parts, "</g>", "</svg>", ""))


def _at(said: float, true: float) -> tuple[float, float]:
    return _LEFT + said * (_RIGHT - _LEFT), _BOTTOM - true * (_BOTTOM - _TOP)
