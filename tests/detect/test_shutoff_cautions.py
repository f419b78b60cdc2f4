"""Where no valve may shut by itself, and what must be settled where one may."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.detect.shutoff_cautions import cautions, held_back, served_by
from district.network import Network
from district.schema.event_tables import SHUTOFF_CAUTION


def connections(**told: object) -> pd.DataFrame:
    usual = {"use_class": "household", "critical": False}
    return pd.DataFrame([usual | told], index=["C1"])


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({}, ""),
        ({"use_class": "commercial"}, ""),
        ({"critical": np.nan, "use_class": None}, ""),
        ({"critical": True}, "C1 may not be cut off without agreement"),
        ({"use_class": "Fire hydrants"}, "never belongs on a fire supply"),
        ({"use_class": "sprinkler", "critical": True}, "never belongs on a fire supply"),
        ({"use_class": "Hospital"}, "Medical and process users must agree first"),
        ({"use_class": "process water"}, "Medical and process users must agree first"),
    ],
)
def test_who_may_not_be_shut_off(told: dict[str, object], said: str) -> None:
    reason = held_back(connections(**told))
    assert said in reason
    assert bool(reason) == bool(said)
    assert reason.startswith("None advised: " if said else "")


def test_layers_without_these_columns_hold_nothing_back() -> None:
    assert held_back(pd.DataFrame(index=["C1"])) == ""


@pytest.mark.parametrize(
    ("fails", "said"),
    [
        ("open", "Without power the valve X7 opens: nothing is shut off then, and a leak runs on."),
        ("shut", "the building is without water until it is back."),
        ("stays", "Without power the valve X7 stays as it is: nothing is shut off then."),
        (None, "find out, and fill in fail_position."),
        (np.nan, "find out, and fill in fail_position."),
    ],
)
def test_what_the_valve_does_without_power(fails: object, said: str) -> None:
    words = cautions("X7", fails, meters_count=1)
    assert words.startswith(SHUTOFF_CAUTION)
    assert words.endswith(said)


def test_a_building_without_a_valve_or_with_several_meters() -> None:
    words = cautions("", None, meters_count=2)
    assert "No valve that shuts by itself is on the map here" in words
    assert words.endswith("The building has 2 meters: this is for a valve behind this one alone.")


def test_the_caution_names_fire_users_power_and_who_decides() -> None:
    for word in ("fire", "medical", "process", "without power", "Local code", "licensed person"):
        assert word in SHUTOFF_CAUTION


def test_a_meter_serves_what_names_it_or_its_building(network: Network) -> None:
    assert list(served_by(network, "B1", "Hall").index) == ["C1"]
    assert list(served_by(network, "B9", "Hall").index) == ["C1"]
    assert list(served_by(network, "B2", "").index) == ["C2"]
