"""The states of a trellis in service: beside those of the bare wire, and in none of their lists."""

from enum import StrEnum


class ServiceState(StrEnum):
    """What bears on the wires at once; the value is its word in tables and files."""

    CROP = "crop"
    WIND = "wind"
    CROP_AND_WIND = "crop and wind"
    NET = "net"
    NET_AND_WIND = "net and wind"
    HARVEST = "machine harvest"
