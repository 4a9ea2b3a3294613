"""Which states of service there are numbers for."""

from typing import Any

from wirerun.rules.in_service import left_out_of_service, states_given
from wirerun.service_state import ServiceState

from tests.unit.rules.test_joining import config

WINDY = {"wind_speed_ms": 20.0, "wind_speed_is": "gust", "canopy_open": 0.5}
CROP, WIND, BOTH = ServiceState.CROP, ServiceState.WIND, ServiceState.CROP_AND_WIND
NET, NET_AND_WIND, HARVEST = ServiceState.NET, ServiceState.NET_AND_WIND, ServiceState.HARVEST


def given(**service: Any) -> list[ServiceState]:  # noqa: ANN401 - settings of the section
    return list(states_given(config(service=service).service))


def test_a_state_is_there_where_all_its_numbers_are() -> None:
    crop, wind, net = {"crop_n_per_m": {"lower": 10.0}}, WINDY, {"net_n_per_m": 2.0}
    assert given() == []
    assert given(**crop) == [CROP]
    assert given(**wind) == [WIND]
    assert given(**crop, **wind) == [CROP, WIND, BOTH]
    assert given(**net) == given(**net, net_open=0.5) == [NET]
    assert given(**net, **wind) == [WIND, NET]
    assert given(**net, **wind, net_open=0.5) == [WIND, NET, NET_AND_WIND]
    assert given(harvester_side_n=200.0) == [HARVEST]


def test_what_is_left_out_is_told_and_wind_on_nets_only_where_there_are_both() -> None:
    net_open = "wind on nets (net_open)"
    for service in ({"net_n_per_m": 2.0}, WINDY):
        assert net_open not in left_out_of_service(config(service=service))[0].message
    (both,) = left_out_of_service(config(service={"net_n_per_m": 2.0} | WINDY))
    assert net_open in both.message
