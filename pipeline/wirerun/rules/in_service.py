"""Which states of service a config gives numbers for, and what it leaves out."""

from typing import Final

from wirerun.findings import Finding
from wirerun.service_state import ServiceState
from wirerun.settings import Config, ServiceSettings

#: What states need of the config, in words.
_NEEDS: Final = {
    ServiceState.CROP: "the crop (crop_n_per_m)",
    ServiceState.WIND: "wind (wind_speed_ms)",
    ServiceState.NET: "nets (net_n_per_m)",
    ServiceState.NET_AND_WIND: "wind on nets (net_open)",
    ServiceState.HARVEST: "a harvester's push (harvester_side_n)",
}


def states_given(asked: ServiceSettings) -> tuple[ServiceState, ...]:
    """Return the states that there are numbers for, in their order."""
    crop, wind, net = bool(asked.crop_n_per_m), asked.wind_speed_ms is not None, asked.net_n_per_m is not None
    there = {
        ServiceState.CROP: crop,
        ServiceState.WIND: wind,
        ServiceState.CROP_AND_WIND: crop and wind,
        ServiceState.NET: net,
        ServiceState.NET_AND_WIND: net and wind and asked.net_open is not None,
        ServiceState.HARVEST: asked.harvester_side_n is not None,
    }
    return tuple(state for state in ServiceState if there[state])


def left_out_of_service(config: Config) -> list[Finding]:
    """Return a finding on the loads of service that the config gives no number for; none where it gives all."""
    given = states_given(config.service)
    # Wind on nets is only missed where there are both.
    both = ServiceState.WIND in given and ServiceState.NET in given
    missed = [state for state in _NEEDS if state not in given and (both or state is not ServiceState.NET_AND_WIND)]
    if not missed:
        return []
    looked_at = f"the bare wire and {', '.join(given)}" if given else "the bare wire"
    return [
        Finding(
            "service-left-out",
            config.name,
            f"Section [service] gives no number for {', '.join(_NEEDS[state] for state in missed)}: fixings and posts "
            f"are looked at for {looked_at} only. What they bear in service is for a competent person to judge.",
        )
    ]
