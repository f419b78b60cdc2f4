from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

from district.check.plausible import unlikely_flows
from district.network import Network, build_network
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]


@pytest.fixture
def network(inputs: Inputs) -> Network:
    return build_network(inputs, settings=Settings())


def days(**volume_m3: float) -> pd.DataFrame:
    """Ten days on which each meter passes the same."""
    parts = [
        pd.DataFrame({"device_id": meter, "day": pd.date_range("2025-03-01", periods=10)}).assign(
            volume_m3=volume, coverage_share=1.0, spread_share=0.0
        )
        for meter, volume in volume_m3.items()
    ]
    return pd.concat(parts, ignore_index=True)


def nights(**flow_l_s: float) -> pd.DataFrame:
    """Ten nights on which each meter shows the same."""
    parts = [
        pd.DataFrame({"device_id": meter, "night": pd.date_range("2025-03-01", periods=10)}).assign(
            flow_l_s=flow, window_h=2.0, coverage_share=1.0
        )
        for meter, flow in flow_l_s.items()
    ]
    return pd.concat(parts, ignore_index=True)


NO_NIGHTS = nights(X=1.0)


def said(network: Network, **volume_m3: float) -> list[str]:
    return [
        f.sentence()
        for f in unlikely_flows(days(**volume_m3), NO_NIGHTS, network, lambda _: "r.csv")
    ]


def test_a_likely_balance_gives_no_finding(network: Network) -> None:
    assert said(network, M1=20.0, M2=5.0, K1=5.0) == []


def test_a_meter_with_the_wrong_sign(network: Network) -> None:
    assert said(network, M1=-20.0, M2=5.0, K1=5.0) == [
        "r.csv, zone MILL: got 25 m³ a day more going out than coming in, expected more coming in "
        "than going out. Check downstream and the sign of the readings of meters M1 and M2."
    ]


def test_less_comes_in_than_is_used(network: Network) -> None:
    assert said(network, M1=12.0, M2=5.0, K1=50.0) == [
        "r.csv, zone MILL: got 7 m³ a day coming in, but 50 m³ through the meters of its buildings "
        "and customers, expected at least as much in as is used. Check reading_unit, "
        "litres_per_pulse and downstream of meters M1 and M2, then those of the meters inside."
    ]


def test_meters_that_stand_still(network: Network) -> None:
    assert said(network, M1=10.0, M2=0.0, K1=5.0) == [
        "r.csv, zone QUAY: got no flow at all through its meters, expected some, as the zone has "
        "connections. Check meter M2: a dead logger writes zeros too."
    ]


def test_a_flow_too_fast_for_its_pipe(network: Network) -> None:
    # 20 000 m³ a day are 231 L/s; in a bore of 100 mm (7.85e-3 m²) they run at 29.5 m/s.
    assert network.pipes["diameter_mm"].eq(100).all()
    assert said(network, M1=20_000.0, M2=5.0, K1=5.0) == [
        "r.csv, meter M1: got a usual flow of 230 L/s, which is 29 m/s in its pipe of 100 mm, "
        "expected less than 3 m/s. Check reading_unit or litres_per_pulse of the meter, then the "
        "diameter of the pipe."
    ]


def test_meter_errors_are_no_finding(network: Network) -> None:
    assert said(network, M1=5.0, M2=5.1) == []


def test_days_read_in_part_are_not_judged(network: Network) -> None:
    part = days(M1=-20.0, M2=5.0).assign(coverage_share=0.5)
    assert unlikely_flows(part, NO_NIGHTS, network, lambda _: "r.csv") == []


def test_the_volumes_are_not_changed(network: Network) -> None:
    volumes = days(M1=-20.0, M2=5.0, K1=5.0)
    flows = nights(M1=1.0, M2=0.5)
    before, flows_before = volumes.copy(), flows.copy()
    unlikely_flows(volumes, flows, network, lambda _: "r.csv")
    pd.testing.assert_frame_equal(volumes, before)
    pd.testing.assert_frame_equal(flows, flows_before)


@pytest.mark.parametrize(("flow_l_s", "told"), [(-0.1, True), (0.1, False), (-0.005, False)])
def test_water_that_leaves_a_dead_end_at_night(
    network: Network, flow_l_s: float, told: bool
) -> None:
    whole = days(M1=20.0, M2=5.0, K1=5.0)
    found = unlikely_flows(whole, nights(M1=0.3, M2=flow_l_s), network, lambda _: "r.csv")
    assert [f.sentence() for f in found] == [
        "r.csv, zone QUAY: got 0.1 L/s more going out than coming in at night, expected more "
        "coming in than going out. Check the sign of the readings of meter M2, and whether a pipe "
        "brings in water past them."
    ] * told


def test_nights_on_which_a_meter_was_not_read_say_nothing(network: Network) -> None:
    read = nights(M1=1.0, M2=5.0)
    read.loc[(read["device_id"] == "M1") & (read["night"] >= "2025-03-03"), "flow_l_s"] = None
    volumes = days(M1=20.0, M2=5.0, K1=5.0)
    (found,) = unlikely_flows(volumes, read, network, lambda _: "r.csv")
    assert found.got == "4 L/s more going out than coming in at night"
    none = read.assign(flow_l_s=read["flow_l_s"].where(read["device_id"] == "M2"))
    assert unlikely_flows(volumes, none, network, lambda _: "r.csv") == []
    half = read.assign(
        flow_l_s=read["flow_l_s"].where(
            (read["device_id"] == "M1") == (read["night"] < "2025-03-03")
        )
    )
    assert unlikely_flows(volumes, half, network, lambda _: "r.csv") == []
