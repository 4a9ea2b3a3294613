"""Every way the sections [service] and [machines] can be wrong, and the sentence for it."""

from pathlib import Path

import pytest
from wirerun.errors import Faults, InputError
from wirerun.read.config import load_config
from wirerun.read.machines import read_machine_limits

GOOD = """
name = "estate"
[block]
boundary = "block.geojson"
[elevation]
raster = "ground.tif"
[rows]
bearing_deg = 62
spacing_m = 2.4
[machines]
limits = "limits.csv"
[service]
crop_n_per_m = { lower = 18.8 }
wind_speed_ms = 20.0
wind_speed_is = "mean"
terrain = "II"
canopy_open = 0.5
wind_share = { lower = 0.6, upper = 0.4 }
post_rule = "clay"
clay_kpa = 50.0
"""
LIMITS = 'id,most_grade_pct,most_cross_pct,most_slope_pct,about,source,date\nmine,10,,,"",my tractor,2026-11-29\n'


def test_good_sections_are_read(tmp_path: Path) -> None:
    (tmp_path / "config.toml").write_text(GOOD)
    (tmp_path / "limits.csv").write_text(LIMITS)
    config, faults = load_config(tmp_path / "config.toml"), Faults()
    (limit,), (source,) = read_machine_limits(config, faults)
    assert not faults.found
    assert config.service.crop_n_per_m == {"lower": 18.8}
    assert (limit.id, limit.most_grade_pct, limit.most_cross_pct) == ("mine", 10.0, None)
    assert (source.role, source.path) == ("machine limits", "limits.csv")


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        (
            'wind_speed_is = "mean"\n',
            "",
            'service.wind_speed_is: missing; say whether wind_speed_ms is a "gust" or the "mean" of ten minutes',
        ),
        ('terrain = "II"\n', "", 'service.terrain: missing; wind_speed_is = "mean" needs it'),
        ("canopy_open = 0.5\n", "", "service.canopy_open: missing; wind_speed_ms needs it"),
        ("canopy_open = 0.5", "canopy_open = 1.5", "service.canopy_open: 1.5 is above the greatest value 1"),
        ("upper = 0.4", "upper = 0.5", "service.wind_share: 1.1 together is more than the 1 there is"),
        ("upper = 0.4", "top = 0.4", 'service.wind_share: there is no wire "top", only lower, upper'),
        ("lower = 18.8", "fruiting = 18.8", 'service.crop_n_per_m: there is no wire "fruiting", only lower, upper'),
        ("lower = 18.8", "lower = -1.0", "service.crop_n_per_m.lower: -1.0 is too small; it must be above 0"),
        ("clay_kpa = 50.0\n", "", 'service.clay_kpa: missing; post_rule = "clay" needs it'),
        ('"clay"\nclay_kpa', '"sand"\nsand_deg', 'service.sand_kn_m3: missing; post_rule = "sand" needs it'),
        (
            "clay_kpa = 50.0",
            "clay_kpa = 50.0\npost_pull_n = 900.0",
            "service: post_pull_n and post_pull_at_m go together; only post_pull_n given",
        ),
        (
            "clay_kpa = 50.0",
            "clay_kpa = 50.0\nsmooth_keeps = 0.5",
            "service: vibration_class and smooth_keeps go together; only smooth_keeps given",
        ),
        (
            "canopy_open = 0.5",
            "canopy_open = 0.5\ncanopy_bottom_m = 1.9\ncanopy_top_m = 0.9",
            "service: the canopy has no height: it goes from canopy_bottom_m, 1.9 m, up to canopy_top_m, 0.9 m",
        ),
        ('"mean"', '"storm"', 'service.wind_speed_is: "storm" is not known; allowed: "gust", "mean"'),
    ],
)
def test_one_fault_one_sentence(tmp_path: Path, old: str, new: str, sentence: str) -> None:
    assert old in GOOD
    (tmp_path / "config.toml").write_text(GOOD.replace(old, new, 1))
    with pytest.raises(InputError) as caught:
        load_config(tmp_path / "config.toml")
    assert str(caught.value).replace(f"{tmp_path}/", "").splitlines() == [f"config.toml, {sentence}"]


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        (None, "limits.csv: there is no such file"),
        (LIMITS.replace("10,", "-1,"), 'limits.csv, line 2, most_grade_pct: "-1" will not do'),
        (LIMITS.replace("my tractor", ""), "limits.csv, line 2, source: the cell is empty"),
        (LIMITS.replace("10,,,", ",,,"), "limits.csv, line 2, most_slope_pct: missing; a limit needs"),
    ],
)
def test_limits_that_cannot_be_read(tmp_path: Path, table: str | None, sentence: str) -> None:
    (tmp_path / "config.toml").write_text(GOOD)
    if table is not None:
        (tmp_path / "limits.csv").write_text(table)
    faults = Faults()
    read_machine_limits(load_config(tmp_path / "config.toml"), faults)
    (fault,) = faults.found
    assert str(fault).startswith(sentence)
