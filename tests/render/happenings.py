"""What happened in the hand-made district: causes, repairs, meters, sensors and valves."""

from __future__ import annotations

from typing import Any

import pandas as pd

from district.results import Basis, ShutOff
from district.schema import event_tables
from district.schema.columns import Table

SCRIPT = "<script>alert(1)</script>"


def _table(declared: Table, rows: list[dict[str, object]]) -> pd.DataFrame:
    return pd.DataFrame(rows).reindex(columns=list(declared.names()))


def _three(name: str, value: float, half: float) -> dict[str, object]:
    return {name: value, f"{name}_low": value - half, f"{name}_high": value + half}


def causes() -> pd.DataFrame:
    """The leak E1 may be a use; a meter is all but ruled out."""
    return _table(
        event_tables.EVENT_CAUSES,
        [
            {"event_id": "E1", "kind": kind, "probability_share": share, "reason": said}
            for kind, share, said in (
                ("use", 0.078, f"for it: it began on a Monday {SCRIPT}"),
                ("leak", 0.92, "for it: the same at all hours"),
                ("meter_fault", 0.002, "against it: the meter was tested"),
            )
        ],
    )


def repair_checks() -> pd.DataFrame:
    """One repair that worked, and a later one that did so in part."""

    def row(place: str, day: str, verdict: str, left: float) -> dict[str, object]:
        return {
            "place_id": place, "event_id": "", "work": f"a repair at P21 on {day} {SCRIPT}",
            "repaired": pd.Timestamp(day), "nights_before_count": 28, "nights_after_count": 9,
            **_three("before_l_s", 0.9, 0.02), **_three("drop_l_s", 0.9 - left, 0.03),
            **_three("remaining_l_s", left, 0.03), "verdict": verdict,
            "said": f"After the repair of {day} the night flow fell",
        }  # fmt: skip

    return _table(
        event_tables.REPAIR_CHECKS,
        [row("Z1", "2031-04-20", "verified", 0.0), row("M&B", "2031-04-02", "partly", 0.3)],
    )


def building_checks() -> pd.DataFrame:
    """M&B never stops; of others one is dead, one still, and two are read too seldom."""

    def row(device_id: str, verdict: str, **said: Any) -> dict[str, object]:
        return {"device_id": device_id, "building_id": "", "cell_id": "Z2", "verdict": verdict,
                "rests_on": "hourly readings", "said": f"{device_id} was read", "act": False,
                **said}  # fmt: skip

    return _table(
        event_tables.BUILDING_CHECKS,
        [
            row("B3", "still"),
            row("M&B", "constant_flow", building_id=f"Hall {SCRIPT}", act=True,
                since=pd.Timestamp("2031-03-20"), **_three("constant_l_s", 0.08, 0.002),
                **_three("volume_m3", 276.0, 7.0), **_three("cost_currency_year", 2020.0, 50.0),
                said="6 900 L a day runs without a stop"),
            row("B2", "dead"),
            row("B4", "too_few"),
            row("B5", "too_few"),
        ],
    )  # fmt: skip


def sensor_checks() -> pd.DataFrame:
    """S3 chatters, S4 is silent, S5 is sound."""
    return _table(
        event_tables.SENSOR_CHECKS,
        [
            {"sensor_id": key, "kind": kind, "building_id": home, "cell_id": "Z2",
             "spells_count": 3, "alarm_h": 7.5, "last_reading": pd.Timestamp("2031-04-29"),
             "verdict": verdict, "said": said}
            for key, kind, home, verdict, said in (
                ("S3", "wet_floor", "Hall", "flapping", f"It turned wet 40 times {SCRIPT}"),
                ("S4", "chamber_float", "", "silent", "Not read since 2031-04-02"),
                ("S5", "leak_cable", "", "sound", "No alarm in its record"),
            )
        ],
    )  # fmt: skip


def shut_off() -> ShutOff:
    """AV<1> of the hall has a setting; B2 has none."""
    caution = event_tables.SHUTOFF_CAUTION
    settings = [
        {"device_id": "B2", "building_id": "", "valve_id": "", "advice": "None advised: dead",
         "cautions": f"{caution} No valve is on the map."},
        {"device_id": "M&B", "building_id": f"Hall {SCRIPT}", "valve_id": "AV<1>",
         "trip_l_s": 0.1, "trip_h": 4.0, **_three("false_trips_per_year", 0.5, 0.4),
         "leaks_count": 1, **_three("leaked_m3", 276.0, 7.0), **_three("leaked_with_m3", 3.0, 0.5),
         "advice": "Trip when more than 0.1 L/s runs for 4 h",
         "cautions": f"{caution} Without power the valve AV<1> stays as it is."},
    ]  # fmt: skip
    curve = [
        {"device_id": "M&B", "trip_l_s": flow, "trip_h": hours,
         "false_trips_per_year": trips, "false_trips_per_year_low": 0.8 * trips,
         "false_trips_per_year_high": 1.2 * trips + 1.0, **_three("leaked_with_m3", lost, lost / 5),
         "advised": hours == 4.0}
        for flow, hours, trips, lost in (
            (0.1, 2.0, 400.0, 1.1), (0.1, 4.0, 0.5, 3.0), (0.2, 3.0, 12.0, 2.2),
            (0.2, 6.0, 0.0, 9.0),
        )
    ]  # fmt: skip
    return ShutOff(
        _table(event_tables.SHUTOFF_SETTINGS, settings),
        _table(event_tables.SHUTOFF_CURVE, curve),
        Basis(assumptions=(f"Flow of the past is taken for flow to come {SCRIPT}.",)),
    )
