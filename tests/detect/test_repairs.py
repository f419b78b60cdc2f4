"""Repairs held against the nights around them, on series drawn from a seed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from district.detect import find_events
from district.network import Network
from district.schema.event_tables import REPAIR_CHECKS
from district.settings import Settings

T = np.arange(365)
DATE = pd.date_range("2025-01-01", periods=365, freq="D")
Check = Callable[..., pd.DataFrame]


@pytest.fixture
def check(
    network: Network, nights_of: Any, building_nights_of: Any, works_of: Any, alarms_of: Any
) -> Check:
    def run(zones: dict[str, np.ndarray], works: Any, buildings: Any = None) -> pd.DataFrame:
        return find_events(
            nights_of(zones) if zones else nights_of({"V1": []}),
            building_nights_of(buildings or {}),
            network=network,
            alarms=alarms_of([]),
            works=works_of(list(works)),
            settings=Settings(),
        ).repair_checks

    return run


def repair(night: int, place: str = "P1") -> tuple[str, str, str, str]:
    day = DATE[night].strftime("%Y-%m-%d")
    return (f"{day}T08:00", f"{day}T15:00", "repair", place)


def test_a_repair_that_worked(check: Check, quiet: Any) -> None:
    flow = quiet(365, 1) + 0.4 * ((T >= 100) & (T <= 200))
    (row,) = check({"V1": flow}, [repair(200)]).to_dict("records")
    assert (row["place_id"], row["verdict"]) == ("V1", "verified")
    assert row["event_id"] == "E-V1-2025-04-11"
    assert row["repaired"] == DATE[200]
    assert row["nights_after_count"] == 28
    assert row["drop_l_s_low"] <= 0.4 <= row["drop_l_s_high"]
    assert row["before_l_s_low"] <= 0.4 <= row["before_l_s_high"]
    assert row["remaining_l_s_low"] <= 0.0 <= row["remaining_l_s_high"]
    assert "the repair is verified" in row["said"]


def test_limits_of_the_drop_hold_the_truth(check: Check, quiet: Any) -> None:
    held = 0
    for seed in range(80):
        flow = quiet(365, 300 + seed) + 0.3 * ((T >= 100) & (T <= 200))
        (row,) = check({"V1": flow}, [repair(200)]).to_dict("records")
        held += row["drop_l_s_low"] <= 0.3 <= row["drop_l_s_high"]
    assert held >= stats.binom.ppf(0.01, 80, 0.95)


def test_a_repair_that_eased_it_and_one_that_ended_it(check: Check, quiet: Any) -> None:
    flow = quiet(365, 2) + 0.6 * ((T >= 100) & (T <= 180)) + 0.25 * ((T > 180) & (T <= 230))
    rows = check({"V1": flow}, [repair(180), repair(230)])
    assert list(rows["verdict"]) == ["verified", "partly"]
    assert list(rows["event_id"]) == ["E-V1-2025-04-11"] * 2
    first = rows.iloc[1]
    assert first["remaining_l_s"] == pytest.approx(0.25, abs=0.03)
    assert rows.iloc[0]["nights_before_count"] <= 50


def test_a_repair_at_the_wrong_place(check: Check, quiet: Any) -> None:
    flow = quiet(365, 3) + 0.4 * (T >= 100)
    (row,) = check({"V1": flow}, [repair(200)]).to_dict("records")
    assert row["verdict"] == "not_seen"
    assert "check that the right leak was mended" in row["said"]


def test_one_of_two_leaks_mended(check: Check, quiet: Any) -> None:
    flow = quiet(365, 4) + 0.3 * (T >= 100) + 0.6 * ((T >= 150) & (T <= 220))
    (row,) = check({"V1": flow}, [repair(220)]).to_dict("records")
    assert row["verdict"] == "another_leak"
    assert row["event_id"] == "E-V1-2025-05-31"
    assert row["remaining_l_s"] == pytest.approx(0.3, abs=0.05)


def test_a_new_leak_soon_after(check: Check, quiet: Any) -> None:
    flow = quiet(365, 5) + 0.4 * ((T >= 100) & (T <= 200)) + 0.5 * (T >= 208)
    (row,) = check({"V1": flow}, [repair(200)]).to_dict("records")
    assert row["verdict"] == "another_leak"
    assert f"on {DATE[208]:%Y-%m-%d} it rose again" in row["said"]


@pytest.mark.parametrize(("nights", "told"), [(1, "too_early"), (2, "verified"), (9, "verified")])
def test_too_early_until_nights_enough_have_come(
    check: Check, quiet: Any, nights: int, told: str
) -> None:
    flow = (quiet(365, 6) + 0.4 * ((T >= 100) & (T <= 200)))[: 201 + nights]
    (row,) = check({"V1": flow}, [repair(200)]).to_dict("records")
    assert row["verdict"] == told


def test_the_nights_needed_are_those_of_a_test_of_two_means(check: Check, quiet: Any) -> None:
    """n after of 28 before so that half the rise is 1.96 standard errors of a difference of means
    (NIST/SEMATECH e-Handbook of Statistical Methods, 7.3.1, from memory)."""
    flow = (quiet(365, 7, sigma=0.1) + 0.25 * ((T >= 60) & (T <= 200)))[:203]
    (row,) = check({"V1": flow}, [repair(200)]).to_dict("records")
    assert row["verdict"] == "too_early"
    more = int(row["said"].split("wait for ")[1].split()[0])
    # From what the row says of its own error: sigma of a night by the limits of the drop.
    error = (row["drop_l_s_high"] - row["drop_l_s"]) / stats.norm.ppf(0.975)
    sigma = error / np.sqrt(1 / row["nights_before_count"] + 1 / row["nights_after_count"])
    after = np.arange(1, 60)
    half = stats.norm.ppf(0.975) * sigma * np.sqrt(1 / row["nights_before_count"] + 1 / after)
    wanted = int(after[half <= row["before_l_s"] / 2][0])
    assert row["nights_after_count"] + more == wanted


def test_a_repair_without_an_event(check: Check, quiet: Any) -> None:
    sound = check({"V1": quiet(365, 21)}, [repair(200)])
    assert list(sound["verdict"]) == ["not_seen"]
    assert list(sound["event_id"]) == [""]
    # It ran from before the first night: no rise was seen, the drop is.
    old = check({"V1": quiet(365, 9) + 0.3 * (T <= 200)}, [repair(200)])
    assert list(old["verdict"]) == ["verified"]
    assert np.isnan(old["before_l_s"]).all()


def test_a_repair_at_a_valve_counts_where_a_flow_ran(check: Check, quiet: Any) -> None:
    zones = {"V2": quiet(365, 10), "V3": quiet(365, 11) + 0.4 * ((T >= 100) & (T <= 200))}
    assert list(check(zones, [repair(200, "X1")])["place_id"]) == ["V3"]
    calm = {"V2": quiet(365, 10), "V3": quiet(365, 12)}
    assert list(check(calm, [repair(200, "X1")])["place_id"]) == ["V2", "V3"]


def test_a_repair_at_a_building(check: Check, quiet: Any) -> None:
    flow = quiet(365, 13, level=0.02, sigma=0.005) + 0.15 * ((T >= 100) & (T <= 200))
    rows = check({"V2": quiet(365, 14)}, [repair(200, "B1")], {"B1": flow})
    assert list(zip(rows["place_id"], rows["verdict"], strict=True)) == [("B1", "verified")]
    assert "meter B1" in rows.loc[0, "said"] or "building B1" in rows.loc[0, "said"]


def test_a_flow_that_began_within_its_first_night_and_was_mended_soon(
    check: Check, quiet: Any
) -> None:
    flow = quiet(365, 17, level=0.02, sigma=0.005) + 0.7 * ((T >= 100) & (T <= 102))
    flow[100] -= 0.3
    (row,) = check({"V2": quiet(365, 14)}, [repair(102, "B1")], {"B1": flow}).to_dict("records")
    assert row["verdict"] == "verified"
    assert row["drop_l_s"] == pytest.approx(0.7, abs=0.02)
    assert row["before_l_s_low"] <= 0.7 <= row["before_l_s_high"]
    assert row["remaining_l_s_low"] <= 0.0 <= row["remaining_l_s_high"]


def test_of_a_growing_leak_the_flow_on_the_day_counts(check: Check, quiet: Any) -> None:
    flow = quiet(365, 15) + 0.005 * np.clip(T - 100, 0, None) * (T <= 200)
    (row,) = check({"V1": flow}, [repair(200)]).to_dict("records")
    assert row["verdict"] == "verified"
    assert row["drop_l_s"] == pytest.approx(0.5, abs=0.07)


def test_nights_with_works_are_left_out(check: Check, quiet: Any) -> None:
    flow = quiet(365, 16) + 0.4 * ((T >= 100) & (T <= 200))
    flow[203:206] += 2.0
    flushing = ("2025-07-23T08:00", "2025-07-25T15:00", "flushing", "V1")
    (row,) = check({"V1": flow}, [repair(200), flushing]).to_dict("records")
    assert row["verdict"] == "verified"
    assert row["nights_after_count"] == 25


def test_the_table_is_as_declared(check: Check, quiet: Any) -> None:
    some = check({"V1": quiet(365, 1)}, [repair(200), repair(200)])
    assert tuple(some.columns) == REPAIR_CHECKS.names()
    assert not some.duplicated(list(REPAIR_CHECKS.key)).any()
    assert check({"V1": quiet(365, 1)}, []).empty


def test_two_repairs_within_days_are_held_together_against_the_nights_around(
    check: Check, quiet: Any
) -> None:
    flow = quiet(365, 21) + 0.3 * ((T >= 100) & (T <= 200)) + 0.25 * ((T >= 100) & (T <= 202))
    rows = check({"V1": flow}, [repair(200, "P1"), repair(202, "V1")])
    assert set(rows["mended_id"]) == {"P1", "V1"}
    assert set(rows["verdict"]) == {"verified"}
    for row in rows.to_dict("records"):
        assert row["drop_l_s_low"] <= 0.55 <= row["drop_l_s_high"]
        assert "together with a repair at" in row["said"]


def test_the_nights_to_wait_for_are_told_as_a_number(check: Check, quiet: Any) -> None:
    flow = quiet(365, 22) + 0.4 * ((T >= 300) & (T <= 364))
    (row,) = check({"V1": flow}, [repair(364)]).to_dict("records")
    assert row["verdict"] == "too_early"
    assert row["nights_more_count"] >= 2
    assert f"wait for {row['nights_more_count']:.0f} more night" in row["said"]
