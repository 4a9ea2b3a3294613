"""The wire of a setting, as mechanics knows it."""

from wirerun.mechanics.wire import Wire
from wirerun.settings import WireSettings


def wire_of(settings: WireSettings) -> Wire:
    """Weight, stiffness and thermal expansion of one line of the wire.

    Parameters
    ----------
    settings : WireSettings
        Diameter, density, Young's modulus and expansion.

    Returns
    -------
    Wire
        One number each.
    """
    return Wire.from_diameter(
        settings.diameter_mm,
        settings.density_kg_m3,
        settings.youngs_modulus_gpa * 1e9,
        settings.expansion_per_k,
    )
