"""The wire that a setting means, as the mechanics know it."""

from wirerun.mechanics.section import Wire
from wirerun.settings import WireSettings


def wire_of(settings: WireSettings) -> Wire:
    """Return weight, stiffness and expansion of a wire of the config."""
    return Wire.round(
        settings.diameter_mm,
        density_kg_m3=settings.density_kg_m3,
        youngs_modulus_gpa=settings.youngs_modulus_gpa,
        expansion_per_k=settings.expansion_per_k,
    )
