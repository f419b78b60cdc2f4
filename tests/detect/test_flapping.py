"""Sensors that chatter, stick or fall silent; expected verdicts by the rules stated there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from district.detect.flapping import check_sensors, weak_spells
from district.network import Network
from district.schema import check
from district.schema.event_tables import SENSOR_CHECKS

UTC = ZoneInfo("UTC")
Make = Callable[..., pd.DataFrame]


def record(sensor: str, last: str, *, count: int = 1460, step_h: float = 6.0) -> dict[str, Any]:
    """A sensor read every six hours for a year up to `last`."""
    end = pd.Timestamp(last, tz="UTC")
    first = end - pd.Timedelta(hours=step_h * (count - 1))
    return {
        "device_id": sensor,
        "first_utc": first,
        "last_utc": end,
        "readings_count": count,
        "step_h": step_h,
    }


def checked(network: Network, alarms: pd.DataFrame, *records: dict[str, Any]) -> dict[str, Any]:
    quality = pd.DataFrame(records) if records else None
    found = check_sensors(alarms, quality, network=network, clock=UTC)
    _, findings = check(SENSOR_CHECKS, found, source="sensor_checks")
    assert findings == ()
    return {row.sensor_id: row for row in found.itertuples()}


NOW = record("M1", "2025-12-31")


def test_a_dry_sensor_that_reports_is_sound(network: Network, alarms_of: Make) -> None:
    found = checked(network, alarms_of([]), record("W1", "2025-12-30 20:00"), NOW)
    assert (found["W1"].verdict, found["W1"].said) == ("sound", "No alarm in its record")
    assert found["W1"].building_id == "Hall"
    assert found["W1"].last_reading == pd.Timestamp("2025-12-30")


def test_a_sensor_on_the_map_that_was_never_read_is_silent(
    network: Network, alarms_of: Make
) -> None:
    found = checked(network, alarms_of([]), record("W1", "2025-12-31"))
    assert found["W2"].verdict == "silent"
    assert found["W2"].said.startswith("It was never read")


@pytest.mark.parametrize(
    ("last", "step_h", "verdict"),
    [
        ("2025-12-29 01:00", 6.0, "sound"),  # Within 48 h.
        ("2025-12-28 23:00", 6.0, "silent"),
        ("2025-12-25 00:00", 48.0, "sound"),  # Three of its own intervals.
        ("2025-12-22 00:00", 48.0, "silent"),
    ],
)
def test_silence_is_judged_by_the_sensors_own_interval(
    network: Network, alarms_of: Make, last: str, step_h: float, verdict: str
) -> None:
    found = checked(network, alarms_of([]), record("W1", last, step_h=step_h, count=100), NOW)
    assert found["W1"].verdict == verdict


def test_a_sensor_that_reports_changes_only_is_not_called_silent(
    network: Network, alarms_of: Make
) -> None:
    # Twenty readings in two years: seven weeks without one are as usual.
    few = record("W1", "2025-11-12", count=20, step_h=24 * 36.5)
    assert checked(network, alarms_of([]), few, NOW)["W1"].verdict == "sound"


def test_one_that_stood_wet_when_it_fell_silent_is_to_be_looked_at(
    network: Network, alarms_of: Make
) -> None:
    wet = alarms_of([("W1", "2025-12-01", "2025-12-02")])
    found = checked(network, wet, record("W1", "2025-12-02"), NOW)
    assert found["W1"].verdict == "silent"
    assert found["W1"].said == (
        "Not read since 2025-12-02, though it used to report about every 6 h, and it stood wet "
        "then: look there first. Until it reports again nothing is watched there"
    )


def test_chatter_is_flapping_while_it_is_recent(network: Network, alarms_of: Make) -> None:
    chatter = alarms_of([("W1", "2025-12-01", "2025-12-03")]).assign(onsets_count=30.0)
    found = checked(network, chatter, record("W1", "2025-12-31"))
    assert found["W1"].verdict == "flapping"
    assert found["W1"].said.startswith("It turned wet 30 times from 2025-12-01 to 2025-12-03")
    old = alarms_of([("W1", "2025-02-01", "2025-02-03")]).assign(onsets_count=30.0)
    assert checked(network, old, record("W1", "2025-12-31"))["W1"].verdict == "sound"


def test_a_sump_pump_is_named_where_a_float_chatters(network: Network, alarms_of: Make) -> None:
    floats = replace(network, sensors=network.sensors.assign(kind="chamber_float"))
    chatter = alarms_of([("W1", "2025-12-01", "2025-12-03")]).assign(onsets_count=30.0)
    assert "sump pump" in checked(floats, chatter, record("W1", "2025-12-31"))["W1"].said


def test_a_sensor_that_a_flow_speaks_for_does_not_stick(network: Network, alarms_of: Make) -> None:
    stuck = alarms_of([("W1", "2025-12-10", "2025-12-31")])
    quality = pd.DataFrame([record("W1", "2025-12-31")])
    found = check_sensors(stuck, quality, network=network, clock=UTC, spoken_for={"W1"})
    row = found.set_index("sensor_id").loc["W1"]
    assert row["verdict"] == "sound"
    assert row["said"] == "Wet still, and a change of flow speaks for it"


def test_wet_without_a_dry_reading_to_the_end_is_always_on(
    network: Network, alarms_of: Make
) -> None:
    days = record("W1", "2025-12-31")
    stuck = alarms_of([("W1", "2025-12-10", "2025-12-31")])
    assert checked(network, stuck, days)["W1"].verdict == "always_on"
    short = alarms_of([("W1", "2025-12-20", "2025-12-31")])
    assert checked(network, short, days)["W1"].verdict == "sound"
    dried = alarms_of([("W1", "2025-12-01", "2025-12-20")])
    assert checked(network, dried, days)["W1"].verdict == "sound"


def test_without_a_record_only_what_gave_alarm_is_told(network: Network, alarms_of: Make) -> None:
    assert checked(network, alarms_of([])) == {}
    found = checked(network, alarms_of([("W1", "2025-12-01", "2025-12-02")]))
    assert list(found) == ["W1"]
    assert (found["W1"].verdict, found["W1"].spells_count) == ("sound", 1)
    assert found["W1"].said == "1 alarm in its record, the last on 2025-12-02"


def test_a_spell_chatters_by_how_often_it_turns_wet_a_day(alarms_of: Make) -> None:
    rows = alarms_of(
        [
            ("W1", "2025-01-01T00:00", "2025-01-01T10:00"),
            ("W1", "2025-02-01T00:00", "2025-02-11T00:00"),
            ("W1", "2025-03-01T00:00", "2025-03-01T10:00"),
        ]
    ).assign(onsets_count=[6.0, 20.0, 5.0])
    # Six in ten hours; twenty over ten days, two a day, as a floor that is mopped; five.
    assert weak_spells(rows).tolist() == [True, False, False]
    # The same twenty are chatter where the sensor stood wet for minutes each time.
    assert weak_spells(rows.assign(alarm_h=[10.0, 2.0, 10.0])).tolist() == [True, True, False]


def test_short_spells_are_chatter_in_a_crowd_only(alarms_of: Make) -> None:
    def short(*starts: str) -> pd.DataFrame:
        return alarms_of([("W1", s, str(pd.Timestamp(s) + pd.Timedelta("20min"))) for s in starts])

    crowd = short("2025-01-01", "2025-02-01", "2025-03-01", "2025-04-01", "2025-12-01")
    assert weak_spells(crowd).tolist() == [True] * 4 + [False]
    rare = short("2025-01-01", "2025-04-01", "2025-08-01", "2025-12-01")
    assert not weak_spells(rare).any()
    # A long spell among them is water.
    long = alarms_of([("W1", "2025-02-10", "2025-02-11")])
    rows = pd.concat([crowd, long]).sort_values("start_utc")
    assert weak_spells(rows).tolist() == [True, True, False, True, True, False]
