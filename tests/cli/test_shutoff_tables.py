"""What is printed of valves that shut by themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from district.cli import layout
from district.cli.shutoff_tables import SHOWN, advice_lines, print_shutoff
from district.results import Basis, ShutOff
from district.schema.event_tables import SHUTOFF_CAUTION, SHUTOFF_CURVE, SHUTOFF_SETTINGS


def found(meters: int = 1, **told: object) -> ShutOff:
    usual = {
        "building_id": "Hall",
        "valve_id": "A1",
        "trip_l_s": 0.18,
        "trip_h": 4.0,
        "false_trips_per_year": 0.0,
        "false_trips_per_year_low": 0.0,
        "false_trips_per_year_high": 1.84,
        "leaks_count": 1.0,
        "leaked_m3": 172.8,
        "leaked_m3_low": 155.5,
        "leaked_m3_high": 190.1,
        "leaked_with_m3": 2.88,
        "leaked_with_m3_low": 2.59,
        "leaked_with_m3_high": 3.17,
        "advice": "Trip when more than 0.18 L/s runs for 4 h without a break.",
        "cautions": f"{SHUTOFF_CAUTION} Without power the valve A1 opens.",
        "advised": True,
    } | told
    rows = pd.DataFrame([{"device_id": f"B{n}", **usual} for n in range(meters)])
    return ShutOff(
        rows.reindex(columns=list(SHUTOFF_SETTINGS.names())),
        rows.reindex(columns=list(SHUTOFF_CURVE.names())),
        Basis(limits=("No meter read by the hour is known behind A2.",)),
    )


def printed(what: ShutOff, capsys: pytest.CaptureFixture[str]) -> str:
    print_shutoff(what)
    out = capsys.readouterr().out
    assert all(len(line) <= layout.WIDTH for line in out.splitlines())
    return " ".join(out.split())


def test_setting_trade_off_and_cautions_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(found(), capsys)
    assert "Hall B0 A1 0.18 4 0.0 1 173 2.88 0.0–1.8 156–190 2.59–3.17" in out
    assert "- B0: Trip when more than 0.18 L/s runs for 4 h without a break. Without power" in out
    assert "False trips against water lost, by setting" in out
    assert "B0 advised 0.18 4" in out
    assert "Limited by: - No meter read by the hour is known behind A2." in out
    assert out.endswith(" ".join(SHUTOFF_CAUTION.split()))


def test_where_none_is_advised_the_reason_stands_instead(
    capsys: pytest.CaptureFixture[str],
) -> None:
    empty_figures = dict.fromkeys(("trip_l_s", "trip_h", "leaked_with_m3"), np.nan)
    none = found(**empty_figures, advice="None advised: C1 is critical.", valve_id="")
    out = printed(replace(none, curve=none.curve.iloc[:0]), capsys)
    assert "Hall B0 - - -" in out
    assert "- B0: None advised: C1 is critical." in out
    assert "by setting" not in out
    assert SHUTOFF_CAUTION in out


def test_of_many_meters_the_first_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(found(SHOWN + 2), capsys)
    assert "trip more than 12 times a year too, and 2 more meters." in out


def test_advice_that_is_alike_is_told_once() -> None:
    settings = found(3).settings
    assert [line[:16] for line in advice_lines(settings)] == ["- B0, B1 and B2:"]
    settings.loc[1, "advice"] = "None advised: C1 is critical"
    (_, own) = advice_lines(settings)
    assert own == "- B1: None advised: C1 is critical. Without power the valve A1 opens."


def test_settings_that_nobody_bears_are_left_to_machines(
    capsys: pytest.CaptureFixture[str],
) -> None:
    two = found(2)
    curve = two.curve.assign(
        device_id="B0", advised=[True, False], trip_h=[4.0, 2.0], false_trips_per_year=[0.0, 13.0]
    )
    out = printed(replace(two, curve=curve), capsys)
    assert "B0 advised 0.18 4" in out
    assert "B0 0.18 2" not in out


def test_without_a_building_it_says_how_to_ask(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(found(0), capsys)
    assert "advise_all under [shut_off]" in out
    assert SHUTOFF_CAUTION in out
