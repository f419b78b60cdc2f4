"""A leak drawn in a known zone is found where it is; what cannot be compared says why."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from district.locate.pressure import pressure_evidence
from district.locate.spots import Evidence, Spots
from tests.locate.pressure_zone import LeakingZone, leaking_zone

ZONE = leaking_zone(4)


def _asked(zone: LeakingZone) -> tuple[Evidence, Spots, SimpleNamespace]:
    model = zone.known.drawn.model
    network = SimpleNamespace(pipes=pd.DataFrame(index=pd.Index(model.link_id)))
    pipe = np.repeat(np.arange(len(model.link_id)), 2)
    count = len(pipe)
    spots = Spots(
        pipe, np.tile([0.02, 0.98], len(model.link_id)), np.full(count, 50.0),
        np.full(count, "Z", dtype=object), np.zeros(count), np.zeros(count),
        np.ones(count), np.zeros(count),
    )  # fmt: skip
    return pressure_evidence(network, spots, zone.sought, zone.heard), spots, network


def test_the_likeliest_spot_touches_the_leak() -> None:
    evidence, spots, network = _asked(ZONE)
    assert evidence.used
    model = ZONE.known.drawn.model
    best = int(evidence.log_likelihood.argmax())
    order = np.argsort(network.pipes.index.to_numpy(dtype=str), kind="stable")
    link = order[spots.pipe[best]]
    assert ZONE.node in (model.start[link], model.end[link])
    assert "after allowing for the measured flows" in evidence.said


def test_order_of_rows_changes_nothing() -> None:
    evidence, _, _ = _asked(ZONE)
    mixed = ZONE.heard.pressures.sample(frac=1.0, random_state=3)
    other, _, _ = _asked(replace(ZONE, heard=replace(ZONE.heard, pressures=mixed)))
    assert other.log_likelihood == pytest.approx(evidence.log_likelihood, abs=1e-6)


def test_one_leak_is_not_called_two() -> None:
    evidence, _, _ = _asked(ZONE)
    assert evidence.pairs is not None
    assert evidence.pairs.one.max() > evidence.pairs.two.mean()
    assert (evidence.pairs.place_of >= 0).all()


def test_a_logger_that_shifts_by_itself_does_not_lead_astray() -> None:
    table = ZONE.heard.pressures.copy()
    name = table["device_id"].iloc[0]
    late = (table["device_id"] == name) & (table["day"] >= pd.Timestamp(ZONE.sought.start))
    table.loc[late, "pressure_m"] += 1.5
    evidence, _, _ = _asked(replace(ZONE, heard=replace(ZONE.heard, pressures=table)))
    plain, _, _ = _asked(ZONE)
    assert evidence.log_likelihood[plain.log_likelihood.argmax()] > -2.0


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"start": None}, "it is not known when the leak began"),
        ({"cell_id": "Y"}, "inflow of the zone by the hour is not known"),
    ],
)
def test_what_cannot_be_compared_says_why(change: dict[str, object], said: str) -> None:
    evidence, _, _ = _asked(replace(ZONE, sought=replace(ZONE.sought, **change)))
    assert not evidence.used
    assert said in evidence.said
    assert not evidence.log_likelihood.any()


def test_a_model_that_is_no_evidence_gives_its_reason() -> None:
    calibrated = replace(ZONE.heard.calibrated, reason="The model follows no logger.")
    evidence, _, _ = _asked(replace(ZONE, heard=replace(ZONE.heard, calibrated=calibrated)))
    assert (evidence.used, evidence.said) == (False, "The model follows no logger.")


def test_without_a_usable_logger_nothing_is_told() -> None:
    none = np.zeros(len(ZONE.heard.calibrated.usable), dtype=bool)
    calibrated = replace(ZONE.heard.calibrated, usable=none)
    evidence, _, _ = _asked(replace(ZONE, heard=replace(ZONE.heard, calibrated=calibrated)))
    assert "No usable pressure logger" in evidence.said
