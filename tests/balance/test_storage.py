"""Tanks inside zones, by hand: what fills or empties is neither use nor leakage."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance, night_balance
from district.balance.metering import metering
from district.balance.storage import LEVEL_M, tank_edges, with_storage
from district.network import Network, tanks_of
from district.results import Balance, Reduced
from district.schema.stored import NIGHT_MINIMA

SURFACE_M2 = 180.0


@pytest.fixture
def network(make_network: Any) -> Network:
    """North holds tank T1; a second stands in the cell of the source."""
    plain = make_network()
    sensors = plain.sensors.assign(surface_m2=np.nan)
    rows = [sensors.loc[["G1"]].assign(kind="tank_level", surface_m2=SURFACE_M2)] * 2
    more = [r.assign(cell_id=c).rename({"G1": i}) for r, c, i in zip(rows, "NS", "12", strict=True)]
    both = pd.concat([sensors, *more]).replace({"cell_id": {"N": "North"}})
    both = both.rename({"1": "T1", "2": "T2"})
    return replace(plain, sensors=gpd.GeoDataFrame(both, geometry="geometry", crs=32630))


def stored(
    reduced: Reduced,
    nights: pd.DatetimeIndex,
    *,
    night_m: Any = 0.0,
    day_m: Any = 0.0,
    inlet: bool = False,
) -> Reduced:
    """Level T1 rises so much in each night window and day; with `inlet`, through M1 as well."""
    rise_l_s = np.broadcast_to(np.asarray(night_m, float), len(nights)) * SURFACE_M2 / 7.2
    rise_m3 = np.broadcast_to(np.asarray(day_m, float), len(nights)) * SURFACE_M2
    flows = reduced.night_flows.copy()
    if inlet:
        flows.loc[flows["device_id"] == "M1", "flow_l_s"] += rise_l_s
    own = pd.DataFrame({"device_id": "T1", "night": nights, "flow_l_s": rise_l_s})
    # Waves on the way up count for nothing.
    own = own.assign(gross_l_s=50.0, window_h=2.0, coverage_share=1.0)
    days = pd.DataFrame({"device_id": "T1", "day": nights, "volume_m3": rise_m3})
    days = days.assign(gross_m3=900.0, coverage_share=1.0, spread_share=0.0)
    return replace(
        reduced,
        night_flows=pd.concat([flows, own], ignore_index=True),
        daily_volumes=pd.concat([reduced.daily_volumes, days], ignore_index=True),
    )


def level(step_m3: float = 0.0) -> pd.DataFrame:
    row = {"device_id": ["T1"], "kind": ["tank_level"], "step_h": [0.25]}
    return pd.DataFrame({**row, "resolution_m3": [step_m3]})


def balanced(network: Network, reduced: Reduced, settings: Any, works: Any) -> Balance:
    return district_balance(network, reduced, settings=settings, works=works)


def test_tanks_are_the_level_sensors_in_cells(network: Network, make_network: Any) -> None:
    found = tanks_of(network)
    assert found.to_dict("index") == {
        "T1": {"cell_id": "North", "surface_m2": SURFACE_M2},
        "T2": {"cell_id": "S", "surface_m2": SURFACE_M2},
    }
    assert tanks_of(make_network()).empty
    # A cell with a source is not balanced: its tank changes nothing.
    edges = tank_edges(network, pd.Index(["North", "South"]))
    assert edges["meter_id"].tolist() == ["T1"]
    layout = metering(network)
    assert layout.meters.tolist() == ["M1", "M2", "T1"]
    assert layout.signs.toarray().tolist() == [[1, -1, -1], [0, 1, 0]]
    assert layout.tanks == ("T1",)


def test_a_tank_that_fills_at_night_is_no_leak(
    network: Network,
    make_network: Any,
    make_reduced: Any,
    nights: Any,
    settings: Any,
    no_works: Any,
) -> None:
    plain = balanced(make_network(), make_reduced(), settings, no_works)
    # 0.12 to 0.31 m over 180 m² in two hours: 3 to 8 L/s more, where 0.6 L/s come in else.
    rise_m = np.linspace(0.12, 0.31, len(nights))
    full = balanced(
        network, stored(make_reduced(), nights, night_m=rise_m, inlet=True), settings, no_works
    )
    for name in ("inflow_l_s", "leakage_l_s", "excess_l_s", "leakage_m3_d"):
        np.testing.assert_allclose(full.nights[name], plain.nights[name], atol=1e-9)
    blind = balanced(
        make_network(),
        stored(make_reduced(), nights, night_m=rise_m, inlet=True),
        settings,
        no_works,
    )
    assert (blind.nights.loc[blind.nights["cell_id"] == "North", "leakage_l_s"] > 3).all()
    summary = full.zones.set_index("cell_id")["leakage_l_s"]
    assert summary["North"] == pytest.approx(
        plain.zones.set_index("cell_id").loc["North", "leakage_l_s"]
    )


def test_its_error_is_that_of_surface_and_levels(
    network: Network, make_reduced: Any, nights: Any, settings: Any, no_works: Any
) -> None:
    reduced = stored(make_reduced(quality=level()), nights, night_m=0.2, inlet=True)
    found = night_balance(network, reduced, settings=settings, works=no_works).nights
    north = found[found["cell_id"] == "North"].iloc[0]
    rise_l_s = 0.2 * SURFACE_M2 / 7.2
    meters = np.hypot(0.02 * (1.0 + rise_l_s), 0.02 * 0.4)
    # Two readings of ±1 cm each, independent, over 7200 s.
    levels = np.sqrt(2) * LEVEL_M * SURFACE_M2 / 7.2
    half = np.sqrt(meters**2 + (0.05 * rise_l_s) ** 2 + levels**2)
    assert north["inflow_l_s_high"] - north["inflow_l_s"] == pytest.approx(half)


def test_a_coarse_level_counts_with_its_step(network: Network, make_reduced: Any) -> None:
    quality = pd.concat([level(9.0), level(0.4).assign(device_id="M1")], ignore_index=True)
    found = with_storage(network, make_reduced(quality=quality)).quality.set_index("device_id")
    fine = np.sqrt(12) * LEVEL_M / 1.96 * SURFACE_M2
    assert found.loc["T1", "resolution_m3"] == pytest.approx(np.hypot(9.0, fine))
    assert found.loc["M1", "resolution_m3"] == 0.4


def test_the_days_and_the_year_count_what_was_stored(
    network: Network, make_reduced: Any, nights: Any, settings: Any, no_works: Any
) -> None:
    found = balanced(network, stored(make_reduced(), nights, day_m=0.05), settings, no_works)
    days = found.days[found.days["cell_id"] == "North"]
    # 130 in, 50 on to South, 0.05 m over 180 m² stay in the tank.
    assert days["inflow_m3"].tolist() == pytest.approx([130 - 50 - 9.0] * len(nights))
    total = days["consumption_m3"] + days["losses_m3"] + days["residual_m3"]
    np.testing.assert_allclose(total, days["inflow_m3"])
    volume = found.annual.set_index(["cell_id", "component"])["volume_m3"]
    assert volume["North", "system input volume"] == pytest.approx(71 * 365)
    assert volume["district", "system input volume"] == pytest.approx(121 * 365)
    zones = found.zones.set_index("cell_id")
    assert zones.loc["North", "inflow_m3_d"] == pytest.approx(71)
    half = np.sqrt((0.02 * 130) ** 2 + (0.02 * 50) ** 2 + (0.05 * 9) ** 2)
    assert zones.loc["North", "inflow_m3_d_high"] == pytest.approx(71 + half)


def test_without_a_level_there_is_no_inflow(
    network: Network, make_reduced: Any, nights: Any, settings: Any, no_works: Any
) -> None:
    reduced = stored(make_reduced(), nights, night_m=0.1)
    flows, daily = reduced.night_flows, reduced.daily_volumes
    flows.loc[(flows["device_id"] == "T1") & (flows["night"] == nights[3]), "flow_l_s"] = np.nan
    flows = flows[(flows["device_id"] != "T1") | (flows["night"] != nights[7])]
    daily = daily[(daily["device_id"] != "T1") | (daily["day"] != nights[5])]
    holed = replace(reduced, night_flows=flows, daily_volumes=daily)
    found = balanced(network, holed, settings, no_works)
    north = found.nights[found.nights["cell_id"] == "North"].reset_index(drop=True)
    assert north.index[north["status"] == "no_inflow"].tolist() == [3, 7]
    assert north.loc[[3, 7], "leakage_l_s"].isna().all()
    days = found.days[found.days["cell_id"] == "North"].reset_index(drop=True)
    assert days.index[days["inflow_m3"].isna()].tolist() == [5]
    south = found.nights[found.nights["cell_id"] == "South"]
    assert (south["status"] == "measured").all()


def test_levels_alone_make_no_nights(
    network: Network, make_reduced: Any, nights: Any, settings: Any, no_works: Any
) -> None:
    longer = pd.date_range(nights[0] - pd.Timedelta(days=9), nights[-1], freq="D")
    reduced = stored(make_reduced(), longer, night_m=0.1)
    found = balanced(network, reduced, settings, no_works)
    assert found.nights["night"].min() == nights[0]
    assert found.days["day"].min() == nights[0]


def test_meters_alone_do_not_tell_the_lowest_hour(
    network: Network, make_reduced: Any, nights: Any, settings: Any, no_works: Any
) -> None:
    minima = pd.DataFrame(
        {
            "cell_id": np.repeat(["North", "South"], len(nights)),
            "night": np.tile(nights, 2),
            "minimum_night_flow_l_s": 0.3,
        }
    ).reindex(columns=list(NIGHT_MINIMA.names()))
    reduced = stored(make_reduced(night_minima=minima), nights, night_m=0.1)
    found = balanced(network, reduced, settings, no_works)
    known = found.nights.groupby("cell_id")["minimum_night_flow_l_s"].count()
    assert known.to_dict() == {"North": 0, "South": len(nights)}
    assert (
        "No lowest rolling hour for North: what a tank stored in that hour is not known well "
        'enough; set the night window to "rolling" to balance over it.' in found.basis.limits
    )
    (said,) = (s for s in found.basis.assumptions if "tanks" in s)
    assert said.startswith("Water that rose in tanks (T1) is taken off the inflow of North")
    # Where the window is that hour, meters and tank are summed over it.
    assert len(with_storage(network, reduced, rolling=True).night_minima) == len(minima)


def test_nothing_is_written_to(network: Network, make_reduced: Any, nights: Any) -> None:
    reduced = stored(make_reduced(quality=level()), nights, night_m=0.1, day_m=0.2)
    names = ("night_flows", "daily_volumes", "quality", "night_minima")
    before = {n: getattr(reduced, n).copy() for n in names}
    with_storage(network, reduced)
    for name, table in before.items():
        pd.testing.assert_frame_equal(getattr(reduced, name), table)
