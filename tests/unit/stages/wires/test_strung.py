"""From where a wire is strained, and at which post the strainer in the middle goes."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from wirerun.settings import Config
from wirerun.stages.wires.strung import string_tight

FloatArray = NDArray[np.float64]


def config(**states: float) -> Config:
    return Config.model_validate(
        {
            "name": "strung",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 0.0, "spacing_m": 2.4},
            "wires": [{"id": "lower", "kind": "foliage", "height_m": 1.2}],
            "states": states,
        }
    )


def posts_of(*grounds: FloatArray) -> pd.DataFrame:
    """Rows of posts 6 m apart on these heights."""
    return pd.concat(
        [
            pd.DataFrame(
                {
                    "post_id": [f"B01-R{row + 1:03d}-P{post + 1:03d}" for post in range(ground.size)],
                    "row_id": f"B01-R{row + 1:03d}",
                    "block_id": "B01",
                    "row": row,
                    "kind": ["end", *["intermediate"] * (ground.size - 2), "end"],
                    "run_m": 6.0 * np.arange(ground.size),
                    "turn_rad": 0.0,
                    "ground_m": ground,
                }
            )
            for row, ground in enumerate(grounds)
        ],
        ignore_index=True,
    )


def strung(posts: pd.DataFrame, **states: float) -> pd.DataFrame:
    spans = int((np.diff(posts["row"]) == 0).sum())
    return string_tight(posts, np.zeros((spans, 3)), config(**states))[2]


def test_the_strainer_goes_where_the_pulls_from_both_ends_have_turned_the_wire_alike() -> None:
    """Rough ground on the first third of the row only: by the capstan the place is the middle of all turning."""
    number = np.arange(61)
    ground = np.where(number <= 20, 0.3 * (number % 2), 0.0)
    totals = strung(posts_of(ground, np.zeros(5)), friction=0.3, min_far_tension=0.8)
    assert totals["strain_from"].tolist() == ["middle", "one end"]
    # Each rough post turns the wire by about 2 x 0.3/6; each level one by its weight over the tension, 0.0076.
    turn = np.where((number > 0) & (number < 20), 0.1, 0.0076)
    turned = np.cumsum(turn)
    middle = int(np.argmin(np.abs(turned - 0.5 * turned[-1])))
    assert 10 <= middle <= 14
    assert totals["strain_at_post"].tolist()[0] in {f"B01-R001-P{middle + k:03d}" for k in (0, 1, 2)}
    assert totals["strain_at_post"].isna().tolist() == [False, True]


def test_no_strainer_without_need_and_none_where_heights_are_missing() -> None:
    zigzag = np.where(np.arange(31) % 2 == 1, 0.3, 0.0)
    holed = zigzag.copy()
    holed[4] = np.nan
    totals = strung(posts_of(zigzag, holed), friction=0.2, min_far_tension=0.7)
    assert totals["strain_from"].tolist()[0] == "both ends"
    assert totals["strain_from"].isna().tolist() == [False, True]
    assert totals["strain_at_post"].isna().all()
    assert strung(posts_of(zigzag), friction=0.0)["strain_from"].tolist() == ["one end"]
