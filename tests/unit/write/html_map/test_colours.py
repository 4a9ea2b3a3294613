"""Colours that must be told apart can be, by people who see colours differently, and words stand out from their ground.

Colour blindness is simulated with the matrices for full severity of G. M. Machado, M. M. Oliveira, L. A. F. Fernandes,
"A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE Transactions on Visualization and
Computer Graphics 15 (2009), from memory; their rows sum to one, so that greys stay grey. Differences are CIE 1976
(L*a*b*, D65).
"""

import re
from itertools import combinations, pairwise
from typing import Final

import numpy as np
import pytest
from numpy.typing import NDArray
from wirerun.write.html_map.assets import own_style
from wirerun.write.html_map.colours import COLOURS, rgb, slope_colours

FloatArray = NDArray[np.float64]

SIGHT: Final = {
    "full": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# IEC 61966-2-1: linear sRGB to CIE XYZ, and the white of D65.
TO_XYZ: Final = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
LEAST_APART: Final = 16.0  # choice: seven times what the eye just sees side by side (2.3, from memory)
POSTS = [COLOURS["screen"]["posts"][name]["fill"] for name in ("plain", "look", "two-way", "end")]
ROWS = [COLOURS["screen"]["rows"][name]["colour"] for name in ("drops", "adjuster", "beyond")]
GROUPS = {
    "posts": POSTS,
    "rows let down": ROWS,
    "slope classes": slope_colours(4),
    "sections and the posts in them": [COLOURS["screen"]["section"], *POSTS],
    "bars of the profile": [COLOURS["screen"]["posts"][name]["fill"] for name in ("plain", "look", "two-way")],
}


def linear(colour: str) -> FloatArray:
    """Return linear red, green and blue, 0 to 1, of an sRGB colour."""
    coded = np.array(rgb(colour), dtype=np.float64) / 255.0
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def lab(colour: str, sight: str) -> FloatArray:
    """Return L*, a*, b* of a colour as a person with that sight has it."""
    seen = np.clip(SIGHT[sight] @ linear(colour), 0.0, 1.0)
    scaled = (TO_XYZ @ seen) / TO_XYZ.sum(axis=1)
    root = np.where(scaled > (6 / 29) ** 3, np.cbrt(scaled), scaled / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.1, 1.4.3): 1 to 21."""
    light = sorted(float(linear(colour) @ [0.2126, 0.7152, 0.0722]) for colour in (one, other))
    return (light[1] + 0.05) / (light[0] + 0.05)


def test_the_simulation_and_the_difference_are_what_they_should_be() -> None:
    for matrix in SIGHT.values():
        assert matrix.sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-5)
    # L*a*b* of pure sRGB red, D65 (published in many places, from memory), and the ends of grey.
    assert lab("#ff0000", "full") == pytest.approx([53.24, 80.09, 67.20], abs=0.05)
    assert lab("#ffffff", "full") == pytest.approx([100.0, 0.0, 0.0], abs=0.01)
    # Red and green of one lightness fall together without the green or the red cones, and not without the blue ones.
    apart = {sight: np.linalg.norm(lab("#a05a00", sight) - lab("#5a8000", sight)) for sight in SIGHT}
    assert max(apart["protanopia"], apart["deuteranopia"]) < 0.6 * apart["full"]
    assert apart["tritanopia"] > 0.6 * apart["full"]
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("group", GROUPS)
def test_classes_can_be_told_apart(group: str, sight: str) -> None:
    apart = {pair: np.linalg.norm(lab(pair[0], sight) - lab(pair[1], sight)) for pair in combinations(GROUPS[group], 2)}
    nearest = min(apart, key=lambda pair: apart[pair])
    assert apart[nearest] >= LEAST_APART, (nearest, apart[nearest])


@pytest.mark.parametrize("count", range(1, 10))
@pytest.mark.parametrize("paper", [False, True])
def test_steeper_is_darker_for_everybody(count: int, paper: bool) -> None:  # noqa: FBT001 - a parameter of the test
    colours = slope_colours(count, paper=paper)
    assert len(set(colours)) == count
    for sight in SIGHT:
        lightness = [lab(colour, sight)[0] for colour in colours]
        assert all(a - b > 3.0 for a, b in pairwise(lightness))


def test_marks_stand_out_from_white_and_from_the_palest_and_the_darkest_ground() -> None:
    """WCAG 2.1, 1.4.11: 3 to 1 for what has no words; a mark's edge counts."""
    for ground in ("#ffffff", "#969696"):  # the range of the shaded relief
        for name in ("two-way", "end", "unknown", "look"):
            post = COLOURS["screen"]["posts"][name]
            best = max(contrast(colour, ground) for colour in post.values() if colour)
            assert best >= 2.9, (name, ground, best)
    for name in ("zone", "adjuster", "measure", "block"):
        assert contrast(COLOURS["screen"][name], "#ffffff") >= 4.5


def test_words_of_the_page_stand_out() -> None:
    """WCAG 2.1, AA: 4.5 to 1 for words."""
    names = dict(re.findall(r"--(\w+): (#[0-9a-f]{6});", own_style()))
    for ground in ("paper", "ground"):
        for words in ("ink", "soft", "act", "focus"):
            assert contrast(names[words], names[ground]) >= 4.5, (words, ground)
    assert contrast("#ffffff", names["act"]) >= 4.5
