"""Settings of an estate that is built over several winters."""

from pydantic import Field

from wirerun.settings.section import Section


class PhaseSettings(Section):
    """What a year may take: `wirerun estate` then says which block is built in which."""

    hours_a_year: float | None = Field(
        None, gt=0.0, le=1e6, description="Hours of work that a year has, of one person. Default: none; no limit."
    )
    cash_a_year: float | None = Field(
        None,
        gt=0.0,
        le=1e12,
        description="Money that a year has, in the catalogue's currency, labour and all that is priced among it. "
        "Default: none; no limit.",
    )
    order: tuple[str, ...] = Field(
        (),
        max_length=1000,
        strict=False,
        description="Blocks in the order in which they are built; those that are not named follow, the cheapest first. "
        "Default: none; as few years as can be, and of these the cheapest first (choice).",
    )
    first_year: int = Field(
        1, ge=1, le=9999, description="What the first year is called, such as 2027. Default: choice (1)."
    )

    @property
    def asked(self) -> bool:
        """Return whether anything limits a year."""
        return self.hours_a_year is not None or self.cash_a_year is not None
