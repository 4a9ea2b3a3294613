"""The table of work zones."""

import pandas as pd

from wirerun.model.zones import Zones


def zone_table(zones: Zones) -> pd.DataFrame:
    """`tables.ZONES` without geometry."""
    return pd.DataFrame({name: getattr(zones, name) for name in zones.__dataclass_fields__})
