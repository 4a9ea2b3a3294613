"""What is taken where heights name no unit, and how loudly it is told."""

import pytest
from pyproj import CRS
from wirerun.errors import Faults
from wirerun.findings import Findings
from wirerun.read.height_unit import METRES, Says, find_height_unit


@pytest.mark.parametrize(
    ("crs", "setting", "code", "level"),
    [
        ("EPSG:2225", None, "height-unit-unsaid", "warning"),  # California zone 1, US survey feet
        ("EPSG:2256", None, "height-unit-unsaid", "warning"),  # Montana, international feet
        ("EPSG:32629", None, "height-unit-assumed", "note"),
        ("EPSG:2225", "us-ft", "height-unit-converted", "note"),
        ("EPSG:2225", "m", None, None),
    ],
)
def test_feet_on_the_ground_alone_are_a_warning(
    crs: str, setting: str | None, code: str | None, level: str | None
) -> None:
    """Metres are taken: feet taken for metres show in every grade, metres taken for feet in none."""
    faults = Faults()
    unit = find_height_unit(None, CRS(crs), Says(setting), "ground.tif", faults)  # type: ignore[arg-type]
    assert not faults
    assert unit.metres == METRES["us-ft" if setting == "us-ft" else "m"]
    if code is None:
        assert unit.finding is None
        return
    assert unit.finding is not None
    notes = Findings()
    notes.note(unit.finding.code, unit.finding.message, unit.finding.place)
    assert [(one.code, one.level) for one in notes] == [(code, level)]
    if level == "warning":
        assert "metres were taken" in unit.finding.message
        assert '"us-ft", "ft" or "ind-ft"' in unit.finding.message
