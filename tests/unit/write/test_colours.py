"""Colours that must be told apart can be, by people who see colours differently, and words stand out from their ground.

Colour blindness is simulated with the matrices for full severity of G. M. Machado, M. M. Oliveira, L. A. F. Fernandes,
"A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE Transactions on Visualization and
Computer Graphics 15 (2009) 1291-1298; their rows sum to one, so that greys stay grey. Differences are CIEDE2000, by
G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 Color-Difference Formula", Color Research and Application 30 (2005).
"""

import re
from itertools import combinations, pairwise
from typing import Any, Final

import numpy as np
import pytest
from numpy.typing import NDArray
from wirerun.write.colours import COLOURS, rgb, slope_colours
from wirerun.write.html_map.assets import own_style

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
LEAST_APART: Final = 20.0  # choice: told apart at a glance, in marks too small for their shapes
NIGHT = {**COLOURS["screen"], **COLOURS["dark"]}


def fills(palette: dict[str, Any], *names: str) -> list[str]:
    """Return the colours of some classes of posts."""
    return [palette["posts"][name]["fill"] for name in names]


def groups(palette: dict[str, Any]) -> dict[str, list[str]]:
    """Return the colours that one may see side by side, by what they are of."""
    return {
        "posts": fills(palette, "plain", "look", "two-way", "end"),
        "rows let down": [row["colour"] for row in palette["rows"].values()],
        "sections and the posts in them": [palette["section"], *fills(palette, "plain", "look", "two-way")],
    }


GROUPS = {
    **{f"{name} by day": colours for name, colours in groups(COLOURS["screen"]).items()},
    **{f"{name} by night": colours for name, colours in groups(NIGHT).items()},
    "slope classes": slope_colours(4),
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


def apart(one: FloatArray, other: FloatArray) -> float:
    """Return the CIEDE2000 difference of two colours in L*a*b*; the numbers of the equations are those of the paper."""
    (light_1, a_1, b_1), (light_2, a_2, b_2) = one, other
    chroma = (np.hypot(a_1, b_1) + np.hypot(a_2, b_2)) / 2.0
    greyer = 0.5 * (1.0 - np.sqrt(chroma**7 / (chroma**7 + 25.0**7)))  # (4)
    a_1, a_2 = (1.0 + greyer) * a_1, (1.0 + greyer) * a_2
    chroma_1, chroma_2 = np.hypot(a_1, b_1), np.hypot(a_2, b_2)
    hue_1, hue_2 = np.degrees(np.arctan2(b_1, a_1)) % 360.0, np.degrees(np.arctan2(b_2, a_2)) % 360.0
    turn = (hue_2 - hue_1 + 180.0) % 360.0 - 180.0 if chroma_1 * chroma_2 else 0.0  # (10)
    d_light, d_chroma = light_2 - light_1, chroma_2 - chroma_1
    d_hue = 2.0 * np.sqrt(chroma_1 * chroma_2) * np.sin(np.radians(turn) / 2.0)  # (11)
    light, chroma = (light_1 + light_2) / 2.0, (chroma_1 + chroma_2) / 2.0
    hue = (hue_1 + turn / 2.0) % 360.0 if chroma_1 * chroma_2 else hue_1 + hue_2  # (14)
    of_hue = sum(
        share * np.cos(np.radians(times * hue - at))
        for share, times, at in ((-0.17, 1, 30), (0.24, 2, 0), (0.32, 3, -6), (-0.20, 4, 63))
    )  # (15)
    s_light = 1.0 + 0.015 * (light - 50.0) ** 2 / np.sqrt(20.0 + (light - 50.0) ** 2)
    s_chroma, s_hue = 1.0 + 0.045 * chroma, 1.0 + 0.015 * chroma * (1.0 + of_hue)
    blue = np.radians(60.0 * np.exp(-(((hue - 275.0) / 25.0) ** 2)))
    turned = -2.0 * np.sqrt(chroma**7 / (chroma**7 + 25.0**7)) * np.sin(blue)  # (21)
    parts = np.array([d_light / s_light, d_chroma / s_chroma, d_hue / s_hue])
    return float(np.sqrt(parts @ parts + turned * parts[1] * parts[2]))  # (22)


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (WCAG 2.1, 1.4.3): 1 to 21."""
    light = sorted(float(linear(colour) @ [0.2126, 0.7152, 0.0722]) for colour in (one, other))
    return (light[1] + 0.05) / (light[0] + 0.05)


def test_the_simulation_and_the_difference_are_what_they_should_be() -> None:
    for matrix in SIGHT.values():
        assert matrix.sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-5)
    # L*a*b* of pure sRGB red, D65 (published in many places), and the ends of grey.
    assert lab("#ff0000", "full") == pytest.approx([53.24, 80.09, 67.20], abs=0.05)
    assert lab("#ffffff", "full") == pytest.approx([100.0, 0.0, 0.0], abs=0.01)
    # Red and green of one lightness fall together without the green or the red cones, and not without the blue ones.
    seen = {sight: np.linalg.norm(lab("#a05a00", sight) - lab("#5a8000", sight)) for sight in SIGHT}
    assert max(seen["protanopia"], seen["deuteranopia"]) < 0.6 * seen["full"]
    assert seen["tritanopia"] > 0.6 * seen["full"]
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize(
    ("one", "other", "difference"),
    [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((50.0, 2.5, 0.0), (61.0, -5.0, 29.0), 22.8977),
        ((50.0, 2.5, 0.0), (56.0, -27.0, -3.0), 31.9030),
        ((50.0, 2.5, 0.0), (58.0, 24.0, 15.0), 19.4535),
    ],
)
def test_the_difference_is_that_of_the_papers_table(
    one: tuple[float, ...], other: tuple[float, ...], difference: float
) -> None:
    """Pairs 1, 7, 17, 18, 19 and 20 of table 1 of Sharma, Wu and Dalal."""
    assert apart(np.array(one), np.array(other)) == pytest.approx(difference, abs=1e-4)


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("group", GROUPS)
def test_classes_can_be_told_apart(group: str, sight: str) -> None:
    seen = {pair: apart(lab(pair[0], sight), lab(pair[1], sight)) for pair in combinations(GROUPS[group], 2)}
    nearest = min(seen, key=lambda pair: seen[pair])
    assert seen[nearest] >= LEAST_APART, (nearest, seen[nearest])


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


@pytest.mark.parametrize("night", [False, True])
def test_words_of_the_page_stand_out(night: bool) -> None:  # noqa: FBT001 - a parameter of the test
    """WCAG 2.2, AA: 4.5 to 1 for words."""
    day, dark = (
        re.findall(r"--([\w-]+): (#[0-9a-f]{6});", part) for part in own_style().split("(prefers-color-scheme", 2)[:2]
    )
    names = dict([*day, *dark] if night else day)
    assert len(dark) > 5
    for ground in ("paper", "ground"):
        for words in ("ink", "soft", "act", "focus", "hint"):
            assert contrast(names[words], names[ground]) >= 4.5, (words, ground)
    assert contrast(names["on-act"], names["act"]) >= 4.5
