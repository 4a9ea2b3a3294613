"""Settings of the map page: what else may lie under the plan."""

import re
from typing import Annotated, Final, Self

from pydantic import AfterValidator, Field, model_validator

from wirerun.settings.section import LocalPath, Section

# The origin goes into the page's security policy: nothing but a plain host and a port may stand there.
_ADDRESS: Final = re.compile(r"https://[A-Za-z0-9.-]+(:[0-9]{1,5})?/[A-Za-z0-9._~{}/?=&%+@-]*")
_PLACES: Final = ("{z}", "{x}", "{y}")


def _tiles(address: str) -> str:
    """Refuse an address that is not one of map tiles on one https host."""
    if not _ADDRESS.fullmatch(address):
        msg = f'"{address}" will not do; wanted is an address such as https://tiles.example.org/{{z}}/{{x}}/{{y}}.png'
        raise ValueError(msg)
    if any(address.count(place) != 1 for place in _PLACES) or set("{}") & set(re.sub(r"\{[zxy]\}", "", address)):
        msg = f'"{address}" will not do; it must have {{z}}, {{x}} and {{y}} once each, and no other braces'
        raise ValueError(msg)
    return address


class MapSettings(Section):
    """What may lie under the plan on the map, besides the ground itself."""

    orthophoto: LocalPath | None = Field(
        None, description="GeoTIFF of 3 or 4 bands, 8 bits each: your own photo of the ground. Default: none."
    )
    orthophoto_px: int = Field(
        1600,
        ge=200,
        le=8000,
        description="Pixels on the longer side of the photo in the page; it is the map's size that pays for more. "
        "Default: choice (about half a megabyte).",
    )
    basemap: Annotated[str, Field(min_length=1, max_length=300), AfterValidator(_tiles)] | None = Field(
        None,
        description="Address of map tiles, such as https://tiles.example.org/{z}/{x}/{y}.png. The page then asks this "
        "one host for pictures, when the reader chooses that backdrop and not before. Default: none; the page asks "
        "nobody.",
    )
    basemap_attribution: str | None = Field(
        None,
        min_length=1,
        max_length=300,
        description="Whose map it is: a line shown with it, as its licence asks. Default: none.",
    )
    basemap_zoom: int = Field(
        19,
        ge=1,
        le=24,
        description="Closest zoom that the tiles have; they are stretched beyond. Default: choice (what most tile "
        "hosts have).",
    )

    @model_validator(mode="after")
    def _named(self) -> Self:
        if self.basemap is not None and self.basemap_attribution is None:
            msg = "basemap needs basemap_attribution: say whose map it is"
            raise ValueError(msg)
        return self

    @property
    def basemap_origin(self) -> str:
        """Return the scheme and host that the page may ask for pictures: "" for none."""
        return "/".join(self.basemap.split("/")[:3]) if self.basemap else ""
