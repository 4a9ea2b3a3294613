"""What bears on the wires in service: crop, wind on the canopy, nets, a harvester."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.findings import Findings
from wirerun.mechanics.wind import mesh_loss, peak_over_mean, sheet_drag, wind_pressure
from wirerun.model.service import OnWires, ServicePlaces
from wirerun.rules.in_service import states_given
from wirerun.service_state import ServiceState
from wirerun.settings import Config, ServiceSettings, WireSettings


class _Canopy(NamedTuple):
    """Lower and upper edge of the canopy above the ground [m]."""

    bottom_m: float
    top_m: float

    @classmethod
    def of(cls, config: Config) -> "_Canopy":
        asked = config.service
        bottom = min(wire.height_m for wire in config.wires) if asked.canopy_bottom_m is None else asked.canopy_bottom_m
        top = config.posts.height_out_m if asked.canopy_top_m is None else asked.canopy_top_m
        return cls(bottom, top)

    @property
    def height_m(self) -> float:
        return max(self.top_m - self.bottom_m, 0.0)


def loads_on_wires(edge: BoolArray, places: ServicePlaces, config: Config, notes: Findings) -> tuple[OnWires, ...]:
    """What bears on a line of every wire in each state that the config gives numbers for.

    The crop bears on all lines of a wire alike; of the wind the lee line takes all of the wire's share, or all lines
    alike. Each wire's share of it is the config's, or the strip of canopy that is nearest to it. Wind blows square to
    the rows. Nets come on top of the crop; the wind on them and that on the canopy behind them are added, as if neither
    sheltered the other.

    Parameters
    ----------
    edge : [row]
        Whether the row gets the whole wind.
    places : ServicePlaces
        How high the wires are.
    config : Config
        Its `service`, wires and posts.
    notes : Findings
        Hears how the wind was reckoned.
    """
    asked, wires, rows = config.service, config.wires, len(edge)
    lines = np.array([wire.lines for wire in wires], dtype=np.float64)
    none = np.zeros((len(wires), rows))
    crop = np.repeat([[asked.crop_n_per_m.get(wire.id, 0.0)] for wire in wires], rows, axis=1) / lines[:, None]
    height = places.height_m.max(axis=1)
    wind, on_net = none, none
    if asked.wind_speed_ms is not None:
        wind, on_net = _winds(edge, height, config, notes)
    net = _nets(height, lines, config)[:, None] + none
    push = np.array([_pushed(wire, asked) for wire in wires])
    still = np.zeros(len(wires))
    whole: Mapping[ServiceState, tuple[FloatArray, FloatArray, FloatArray]] = {
        ServiceState.CROP: (crop, none, still),
        ServiceState.WIND: (none, wind, still),
        ServiceState.CROP_AND_WIND: (crop, wind, still),
        ServiceState.NET: (crop + net, none, still),
        ServiceState.NET_AND_WIND: (crop + net, wind + on_net, still),
        ServiceState.HARVEST: (crop, none, push),
    }
    made = []
    for state in states_given(asked):
        down, side, pushed = whole[state]
        of_line = side / lines[:, None] if asked.wind_on == "all" else side
        beside = of_line if asked.wind_on == "all" else none
        made.append(OnWires(state, down, of_line, beside, pushed))
    return tuple(made)


def _winds(edge: BoolArray, height_m: FloatArray, config: Config, notes: Findings) -> tuple[FloatArray, FloatArray]:
    """Load of the wind on canopy and nets, on a metre of all lines of a wire together, [wire, row] [N/m]."""
    asked, canopy = config.service, _Canopy.of(config)
    of_speed = float(wind_pressure(asked.wind_speed_ms or 0.0, asked.air_kg_m3))
    factor, said = 1.0, "a gust at the canopy"
    if asked.wind_speed_is == "mean" and asked.terrain is not None:
        factor = float(peak_over_mean(canopy.top_m, asked.terrain))
        said = f"a mean, times {factor:.2f} for the peak at the canopy's top (EN 1991-1-4, terrain {asked.terrain})"
    peak = factor * of_speed
    solid = asked.solid_wall * (1.0 - (asked.canopy_open or 0.0))
    on_canopy = peak * solid * canopy.height_m
    on_net = 0.0
    if asked.net_n_per_m is not None and asked.net_open is not None:
        tall = canopy.height_m if asked.net_height_m is None else asked.net_height_m
        on_net = peak * float(sheet_drag(mesh_loss(1.0 - asked.net_open, asked.net_kind))) * tall
    notes.note(
        "service-wind",
        f"Wind of {asked.wind_speed_ms:g} m/s ({said}) presses by {peak:.0f} Pa: {on_canopy:.0f} N a metre of row on a "
        f"canopy of {canopy.height_m:.2f} m that is {100.0 * (asked.canopy_open or 0.0):.0f} % open"
        f"{f', {on_net:.0f} N more on nets' if on_net else ''}, in {int(edge.sum())} of {len(edge)} rows; the others "
        f"get {100.0 * asked.sheltered_share:.0f} % of it. Left out: hills, gusts along the row, row ends, the posts.",
    )
    share = _shares(height_m, config, canopy)[:, None] * np.where(edge, 1.0, asked.sheltered_share)
    return on_canopy * share, on_net * share


def _shares(height_m: FloatArray, config: Config, canopy: _Canopy) -> FloatArray:
    """Share of the wind on the canopy that each wire takes, [wire] [-]."""
    given = config.service.wind_share
    if given:
        return np.array([given.get(wire.id, 0.0) for wire in config.wires])
    at, which, alike = np.unique(height_m, return_inverse=True, return_counts=True)
    between = (at[1:] + at[:-1]) / 2.0
    edges = np.clip(np.r_[-np.inf, between, np.inf], canopy.bottom_m, canopy.top_m)
    strip = np.diff(edges) / max(canopy.height_m, 1e-9)
    return np.asarray((strip / alike)[which])


def _nets(height_m: FloatArray, lines: FloatArray, config: Config) -> FloatArray:
    """Weight of nets on a metre of one line of each wire, [wire] [N/m]."""
    asked = config.service
    if asked.net_n_per_m is None:
        return np.zeros(len(lines))
    named = np.array([wire.id in asked.net_wires for wire in config.wires])
    carries = named if named.any() else height_m == height_m.max()
    return np.asarray(np.where(carries, asked.net_n_per_m / (lines * carries.sum()), 0.0))


def _pushed(wire: WireSettings, asked: ServiceSettings) -> float:
    """Push of the harvester on a line of a wire [N]."""
    there = not asked.harvester_wires or wire.id in asked.harvester_wires
    return (asked.harvester_side_n or 0.0) if there else 0.0
