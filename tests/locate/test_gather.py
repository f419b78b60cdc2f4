"""All evidence about every leak."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pandas as pd
import pytest

from district.errors import UnsettledError
from district.locate.gather import gathered
from district.locate.spots import Heard, Seen, Sought
from district.schema import empty
from district.schema.field_records import CORRELATIONS, SIGHTINGS, STEP_TESTS, SURVEYS
from district.schema.stored import ACOUSTIC_NIGHTS, ALARMS
from district.settings import Settings
from tests.locate.field_scene import LONDON, rows, scene_of
from tests.locate.streets import plain_spots

Make = Callable[..., Any]
LEAKS = (Sought("E1", "V1", "leak", 0.6, 0.5, 0.7), Sought("V2", "V2", "excess", 0.2, 0.1, 0.3))
SPOTS = plain_spots(np.linspace(0, 1, 4))


def test_every_leak_has_its_size(network_of: Make, zones_of: Make, no_events: pd.DataFrame) -> None:
    network = network_of(pd.DataFrame({"pipe_id": list("ABCD")}))
    zones = zones_of({"V2": (0.2, 0.1, 0.3)}).assign(pressure_m=40.0)
    found = gathered(
        network, SPOTS, LEAKS, zones, no_events, settings=Settings(), heard=None, seen=None
    )
    assert list(found) == ["E1", "V2"]
    assert [e.kind for e in found["E1"]] == ["size"]
    assert found["E1"][0].used
    assert "50 m" in found["E1"][0].said
    assert not found["V2"][0].used


def test_a_record_is_old_by_the_last_day_of_readings(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    scene = scene_of()
    excess = (Sought("A", "A", "excess", 0.4, 0.3, 0.5),)
    seen = Seen(
        sightings=rows(SIGHTINGS, {"time": "2023-06-01T10:00Z", "place_id": "c2"}),
        surveys=empty(SURVEYS),
        step_tests=empty(STEP_TESTS),
        correlations=empty(CORRELATIONS),
        alarms=empty(ALARMS),
        acoustic_nights=empty(ACOUSTIC_NIGHTS),
    )
    zones = zones_of({"A": (0.4, 0.3, 0.5)}).assign(pressure_m=40.0)
    for until, counts in ((date(2025, 11, 30), False), (date(2023, 7, 1), True)):
        found = gathered(
            scene.network,
            scene.spots,
            excess,
            zones,
            no_events,
            settings=LONDON,
            heard=None,
            seen=seen,
            until=until,
        )
        assert {e.kind: e.used for e in found["A"]}["sighting"] is counts


def test_a_report_near_a_border_is_held_against_the_leaks_of_both_zones(
    zones_of: Make, no_events: pd.DataFrame
) -> None:
    scene = scene_of()
    spots = replace(scene.spots, cell_id=np.where(scene.spots.x_m > 310, "B", scene.spots.cell_id))
    leaks = tuple(Sought(c, c, "excess", 0.4, 0.3, 0.5) for c in ("A", "B"))
    seen = Seen(
        sightings=rows(SIGHTINGS, {"time": "2025-11-06T10:00Z", "place_id": "c2"}),
        surveys=empty(SURVEYS),
        step_tests=empty(STEP_TESTS),
        correlations=empty(CORRELATIONS),
        alarms=empty(ALARMS),
        acoustic_nights=empty(ACOUSTIC_NIGHTS),
    )
    zones = zones_of(dict.fromkeys(("A", "B"), (0.4, 0.3, 0.5))).assign(pressure_m=40.0)

    def said_of(*sought: Sought) -> list[str]:
        found = gathered(
            scene.network,
            spots,
            sought,
            zones,
            no_events,
            settings=LONDON,
            heard=None,
            seen=seen,
        )
        return [e.said for each in found.values() for e in each if e.kind == "sighting"]

    assert [said.split(". ")[-1] for said in said_of(*leaks)] == [
        "It may be of a leak in B as well.",
        "It may be of a leak in A as well.",
    ]
    assert not any("as well" in said for said in said_of(leaks[0]))


def test_a_leak_the_model_cannot_carry_stops_no_other(
    network_of: Make,
    zones_of: Make,
    no_events: pd.DataFrame,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def unsettled(*_: Any, **__: Any) -> None:
        raise UnsettledError("they miss most at node N1")

    monkeypatch.setattr("district.locate.gather.pressure_evidence", unsettled)
    network = network_of(pd.DataFrame({"pipe_id": list("ABCD")}))
    zones = zones_of({"V2": (0.2, 0.1, 0.3)}).assign(pressure_m=40.0)
    heard = cast(Heard, SimpleNamespace())
    found = gathered(
        network, SPOTS, LEAKS, zones, no_events, settings=Settings(), heard=heard, seen=None
    )
    told = found["E1"][1]
    assert (told.kind, told.used) == ("pressure", False)
    assert told.said.endswith("finds no balance with the leak: they miss most at node N1")
    assert not told.log_likelihood.any()
