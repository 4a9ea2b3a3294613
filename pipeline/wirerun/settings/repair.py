"""Settings of mending wires: how a break is joined, and what wears out in a year."""

from pydantic import Field

from wirerun.settings.section import Section


class RepairSettings(Section):
    """How a broken wire is joined, and how much breaks in a year."""

    cut_back_m: float = Field(
        0.5,
        ge=0.1,
        le=5.0,
        description="Wire cut off on each side of a break, in metres; a join then stands so far from the post, too. "
        "Default: choice (wire beside a break is drawn thin or kinked).",
    )
    overlap_m: float = Field(
        0.15,
        ge=0.0,
        le=2.0,
        description="How far two lengths of wire lie past each other in a join, in metres, where the catalogue does "
        "not say (overlap_mm in wire_ends.csv). Default: choice (a sleeve and what stands out of it).",
    )
    breaks_per_km: float = Field(
        0.1,
        ge=0.0,
        le=100.0,
        description="Breaks in a year for every 1000 m of wire. Default: choice (no published number was found; count "
        "your own).",
    )
    fixings_pct: float = Field(
        1.0,
        ge=0.0,
        le=100.0,
        description="Clips and staples that are renewed in a year, one by one, in percent. Default: choice (count your "
        "own).",
    )
    posts_pct: float = Field(
        0.5,
        ge=0.0,
        le=100.0,
        description="Posts that are renewed in a year, in percent. Default: choice (machines break some).",
    )
    adjusters_pct: float = Field(
        1.0,
        ge=0.0,
        le=100.0,
        description="Adjusters that are renewed in a year, in percent. Default: choice (count your own).",
    )
