"""Tests of `district.locate.look_ahead`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.errors import UnsettledError
from district.hydraulics import calibrate, draw_model, hourly_demands
from district.locate import look_ahead
from district.locate.look_ahead import outlooks
from district.locate.prior import leak_prior
from district.locate.spots import Heard
from district.network import Network
from district.results import Basis, Location
from district.schema import empty
from district.schema.columns import check
from district.schema.event_tables import EVENTS
from district.schema.inputs import BREAKS
from district.schema.located import DETECTABILITY, NEXT_DEVICES, NIGHT_NOISE, ZONE_REACH
from district.schema.outputs import LIKELIHOOD, SEARCH_SETS, STRETCHES
from district.settings import Settings
from district.simulate import draw_leak_trials

BEFORE = Location(
    empty(LIKELIHOOD),
    empty(STRETCHES),
    empty(SEARCH_SETS),
    Basis(assumptions=("A.",), limits=("B.",)),
)


def noise(**by_cell: float) -> pd.DataFrame:
    rows = [
        {
            "cell_id": cell,
            "nights_count": 200.0,
            "noise_l_s": x,
            "noise_l_s_low": 0.8 * x,
            "noise_l_s_high": 1.3 * x,
        }
        for cell, x in by_cell.items()
    ]
    return pd.DataFrame(rows, columns=list(NIGHT_NOISE.names()))


@pytest.fixture(scope="module")
def zone() -> tuple[Any, Heard, Location]:
    """An invented zone with hydraulics, its calibrated model, and what it would see."""
    (trial,) = draw_leak_trials(4, pipes_count=80, loggers_count=4)
    drawn = draw_model(trial.network, settings=trial.settings)
    demands = hourly_demands(trial.network, drawn, trial.hourly_flows, settings=trial.settings)
    fitted = calibrate(drawn, demands, trial.hourly_pressures)
    heard = Heard(fitted, demands, trial.hourly_pressures)
    cell = str(trial.zones["cell_id"].iloc[0])
    found = look_ahead(
        BEFORE,
        trial.network,
        trial.breaks,
        trial.events,
        noise(**{cell: 0.1}),
        settings=trial.settings,
        year=trial.year,
        heard=heard,
    )
    return trial, heard, found


def test_every_pipe_has_a_row_and_every_table_is_as_declared(
    zone: tuple[Any, Heard, Location],
) -> None:
    trial, _, found = zone
    assert found.detectability["pipe_id"].tolist() == sorted(trial.network.pipes.index)
    for table, rows in (
        (DETECTABILITY, found.detectability),
        (ZONE_REACH, found.zone_reach),
        (NEXT_DEVICES, found.next_devices),
    ):
        tidy, findings = check(table, rows, source=table.name)
        assert findings == ()
        assert len(tidy) == len(rows) > 0


def test_what_it_rests_on_stands_beside_what_was_said(zone: tuple[Any, Heard, Location]) -> None:
    found, said = zone[2].basis, zone[2].ahead
    assert found.assumptions == ("A.",)
    assert found.limits == ("B.",)
    assert "within 14 nights on average, at 0.5 false alarms a year" in said.assumptions[0]
    assert "for a leak of 1 L/s" in said.assumptions[1]
    assert said.limits[0].startswith("In 1 zone no hydraulic model with hourly flows")


def test_the_loggers_of_an_invented_zone_shorten_the_walk(
    zone: tuple[Any, Heard, Location],
) -> None:
    trial, _, found = zone
    cell = str(trial.zones["cell_id"].iloc[0])
    alone = look_ahead(
        BEFORE,
        trial.network,
        trial.breaks,
        trial.events,
        noise(**{cell: 0.1}),
        settings=trial.settings,
        year=trial.year,
    )
    heard, prior = (
        t.zone_reach[t.zone_reach["cell_id"] == cell]["walk_share"].to_numpy()
        for t in (found, alone)
    )
    assert (heard < prior).all()
    assert prior == pytest.approx(prior[0])
    assert set(alone.next_devices["kind"]) <= {"zone_meter"}


def test_a_zone_has_its_pipes_in_the_order_of_the_prior(
    zone: tuple[Any, Heard, Location],
) -> None:
    trial, heard, _ = zone
    network = trial.network
    cell = str(trial.zones["cell_id"].iloc[0])
    prior = leak_prior(network, trial.breaks, year=trial.year)
    (_, own) = outlooks(
        network,
        prior,
        empty(EVENTS),
        noise(**{cell: 0.1}),
        settings=Settings(),
        heard=heard,
    )
    assert own.cell_id == cell
    assert own.heard is not None
    assert list(own.pipe_id) == sorted(own.pipe_id)
    length = network.pipes.loc[list(own.pipe_id), "length_m"].to_numpy()
    assert own.length_m == pytest.approx(length)


def test_a_layer_without_balance_or_model_is_walked_by_the_prior(
    network_of: Callable[..., Network], pipes_of: Callable[..., pd.DataFrame]
) -> None:
    network = network_of(pipes_of(60, cells=2, seed=1))
    found = look_ahead(
        BEFORE, network, empty(BREAKS), empty(EVENTS), noise(), settings=Settings(), year=2025
    )
    assert found.detectability["smallest_l_s"].isna().all()
    assert (found.detectability["walk_m"] > 0).all()
    assert found.next_devices.empty
    assert found.ahead.limits[-1] == (
        "No single logger or meter more would save 3 % of the walk to a leak of 1 L/s in its zone."
    )
    assert np.isclose(found.zone_reach["shown_share"], 0.0).all()


def test_a_model_without_balance_is_as_none(
    zone: tuple[Any, Heard, Location], monkeypatch: pytest.MonkeyPatch
) -> None:
    def unsettled(*_: Any, **__: Any) -> None:
        raise UnsettledError("they miss most at node N1")

    trial, heard, _ = zone
    # By its module: the name in the package is the function.
    monkeypatch.setattr(sys.modules["district.locate.look_ahead"], "hear_zones", unsettled)
    cell = str(trial.zones["cell_id"].iloc[0])
    settings, year = trial.settings, trial.year
    asked = (BEFORE, trial.network, trial.breaks, trial.events, noise(**{cell: 0.1}))
    found = look_ahead(*asked, settings=settings, year=year, heard=heard)
    without = look_ahead(*asked, settings=settings, year=year)
    pd.testing.assert_frame_equal(found.detectability, without.detectability)
    assert found.ahead.limits == without.ahead.limits
