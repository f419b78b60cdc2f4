"""Whole trial districts: truth, repeatability, faults."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.simulate import Leaks, MeterFault, OpenValve, Trial, draw_trial


def net_l_s(trial: Trial) -> pd.DataFrame:
    """Net night inflow of each cell: nights x cells."""
    flows = trial.reduced.night_flows.pivot(index="night", columns="device_id", values="flow_l_s")
    edges = trial.network.boundaries.set_index("meter_id")
    net = {}
    for cell in trial.truth_zones["cell_id"]:
        into, out = (edges.index[edges[f"{s}stream_cell_id"] == cell] for s in ("down", "up"))
        net[cell] = flows[into].sum(axis=1, skipna=False) - flows[out].sum(axis=1, skipna=False)
    return pd.DataFrame(net)


def test_the_same_seed_gives_the_same_district() -> None:
    first, again, other = (draw_trial(s, nights_count=10) for s in (1, 1, 2))
    pd.testing.assert_frame_equal(first.reduced.night_flows, again.reduced.night_flows)
    pd.testing.assert_frame_equal(first.truth_nights, again.truth_nights)
    assert not first.truth_nights["leakage_l_s"].equals(other.truth_nights["leakage_l_s"])


@pytest.mark.parametrize(("connections_count", "zones_count"), [(50, 1), (50, 2), (5000, 10)])
def test_truth_covers_every_cell_and_night(connections_count: int, zones_count: int) -> None:
    trial = draw_trial(
        3, connections_count=connections_count, zones_count=zones_count, nights_count=20
    )
    truth = trial.truth_nights
    assert len(truth) == (zones_count + 1) * 20
    assert truth.notna().all(axis=None)
    assert (truth["leakage_l_s"] > 0).all()
    assert not truth["affected"].any()
    ratio = truth["leakage_m3_d"] / (truth["leakage_l_s"] * 3.6)
    # But for days on which a leak starts, the factor of a day is that of its pressures.
    assert ratio.quantile(0.1) > 8.0
    assert ratio.quantile(0.9) < 32.0


def test_inflow_is_leakage_and_use() -> None:
    # A very large leakage: use and meters' errors are small beside it.
    trial = draw_trial(4, nights_count=20, leaks=Leaks(per_zone_count=4.0, median_l_s=60.0))
    true = trial.truth_nights.pivot(index="night", columns="cell_id", values="leakage_l_s")
    shown = net_l_s(trial).reindex(true.index)
    assert np.nanmedian(shown["Z03"] / true["Z03"]) == pytest.approx(1.0, abs=0.1)


def test_a_meter_fault_begins_on_its_night_and_touches_both_sides() -> None:
    how: dict[str, Any] = {"nights_count": 40, "leaks": Leaks(per_zone_count=0.0)}
    plain = draw_trial(5, **how)
    wrong = draw_trial(5, faults=[MeterFault(share=0.1, first=25, meter_id="ZM-Z02")], **how)
    flows = [
        t.reduced.night_flows.query("device_id == 'ZM-Z02'").set_index("night")["flow_l_s"]
        for t in (plain, wrong)
    ]
    ratio = flows[1] / flows[0]
    since = plain.truth_nights["night"].unique()[25]
    assert ratio[ratio.index < since].to_numpy() == pytest.approx(1.0)
    assert ratio[ratio.index >= since].mean() == pytest.approx(1.1, abs=0.02)
    touched = wrong.truth_nights.query("affected")
    assert set(touched["cell_id"]) == {"Z01", "Z02"}
    assert touched["night"].min() == since
    assert touched["leakage_l_s"].to_list() == pytest.approx(
        plain.truth_nights.loc[touched.index, "leakage_l_s"].to_list()
    )


def test_a_fault_without_a_name_takes_a_transfer_meter() -> None:
    for seed in range(5):
        fault = draw_trial(seed, nights_count=5, faults=[MeterFault(0.1, 2)]).faults[0]
        assert isinstance(fault, MeterFault)
        assert fault.meter_id in ("ZM-Z02", "ZM-Z03", "ZM-Z04", "ZM-Z04-2")


def test_an_open_valve_moves_water_between_two_zones() -> None:
    how: dict[str, Any] = {"nights_count": 40, "leaks": Leaks(per_zone_count=0.0)}
    plain = draw_trial(6, **how)
    open_ = draw_trial(6, faults=[OpenValve(flow_l_s=0.2, first=20, valve_id="BV01")], **how)
    moved = (net_l_s(open_) - net_l_s(plain)).iloc[20:]
    # Water that Z02 gets from Z01 by the valve no longer passes their meter.
    assert moved["Z01"].mean() == pytest.approx(0.2, abs=0.03)
    assert moved["Z02"].mean() == pytest.approx(-0.2, abs=0.03)
    assert set(open_.truth_nights.query("affected")["cell_id"]) == {"Z01", "Z02"}


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(ValueError, match="a connection in each zone"):
        draw_trial(1, connections_count=3, zones_count=4)
    with pytest.raises(ValueError, match="ZM-Z01"):
        draw_trial(1, nights_count=2, faults=[MeterFault(0.1, 1, "ZM-99")])
    with pytest.raises(ValueError, match="no boundary valve"):
        draw_trial(1, zones_count=1, nights_count=2, faults=[OpenValve(0.1, 1)])
