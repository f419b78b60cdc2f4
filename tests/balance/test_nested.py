"""The reconciliation of the hand-typed district, from readings to tables."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.schema import check
from district.schema.reconciled import METER_CHECKS, WITHOUT_METER, ZONE_CHECKS

DAYS = pd.date_range("2026-01-05", periods=100, freq="D")
FAULT = 80


def readings(night_table: Any, day_table: Any, share: float) -> dict[str, Any]:
    rng = np.random.default_rng(3)

    def around(value: float) -> Any:
        return value + 0.01 * value * rng.normal(size=len(DAYS))

    south_night, north_night = around(0.4), around(0.6)
    south_day, north_day = around(50.0), around(80.0)
    wrong = np.where(np.arange(len(DAYS)) >= FAULT, 1 + share, 1.0)
    return {
        "night_flows": night_table(
            DAYS, {"M1": south_night + north_night, "M2": south_night * wrong, "B1": 0.2}
        ),
        "daily_volumes": day_table(
            DAYS,
            {"M1": south_day + north_day, "M2": south_day * wrong, "B1": 25, "C1": 4, "C2": 10},
        ),
    }


@pytest.fixture
def found(
    make_network: Any, make_reduced: Any, night_table: Any, day_table: Any,
    settings: Any, no_works: Any,
) -> Any:  # fmt: skip
    reduced = make_reduced(**readings(night_table, day_table, 0.2))
    return district_balance(make_network(), reduced, settings=settings, works=no_works)


def test_the_tables_are_as_declared(found: Any) -> None:
    for table in (METER_CHECKS, ZONE_CHECKS, WITHOUT_METER):
        frame = getattr(found, table.name)
        assert tuple(frame.columns) == table.names()
        _, findings = check(table, frame, source=table.name)
        assert findings == ()


def test_the_transfer_meter_is_named_and_the_inlet_cannot_be_checked(found: Any) -> None:
    rows = found.meter_checks.set_index("meter_id")
    assert rows.loc["M2", "verdict"] == "off"
    assert bool(rows.loc["M2", "act"])
    assert abs((rows.loc["M2", "since"] - DAYS[FAULT]).days) <= 1
    assert rows.loc["M2", "off_share_low"] < 0.2 < rows.loc["M2", "off_share_high"]
    assert (
        "it reads too much: zone South seems to gain what zone North loses"
        in (rows.loc["M2", "reason"])
    )
    assert rows.loc["M1", "verdict"] == "cannot_be_checked"
    assert "Only one side of it is balanced" in rows.loc["M1", "reason"]
    assert "Readings of M2 disagree with the meters beside it" in " ".join(found.basis.limits)


def test_what_the_balance_is_without_it(found: Any) -> None:
    rows = found.without_meter.set_index("cell_id")
    # 0.4 L/s read a fifth too high: South gains 0.08 on paper, North loses it.
    gap = rows["leakage_l_s"] - rows["corrected_leakage_l_s"]
    assert gap["South"] == pytest.approx(0.08, abs=0.015)
    assert gap["North"] == pytest.approx(-0.08, abs=0.015)
    assert rows["nights_count"].to_numpy() == pytest.approx(20, abs=1)
    joint = rows["joint_leakage_l_s"]
    assert joint["North"] == joint["South"]
    assert joint["North"] == pytest.approx(rows["leakage_l_s"].sum(), abs=0.01)
    for name in ("leakage_l_s", "corrected_leakage_l_s", "joint_leakage_l_s"):
        assert (rows[f"{name}_low"] < rows[name]).all()
        assert (rows[name] < rows[f"{name}_high"]).all()


def test_the_district_comes_first_among_the_zones(found: Any) -> None:
    assert list(found.zone_checks["cell_id"]) == ["district", "North", "South"]
    assert found.zone_checks.iloc[0]["critical_index"] == pytest.approx(5.991, abs=0.001)


def test_sound_meters_are_left_in_peace(
    make_network: Any, make_reduced: Any, night_table: Any, day_table: Any,
    settings: Any, no_works: Any,
) -> None:  # fmt: skip
    reduced = make_reduced(**readings(night_table, day_table, 0.0))
    sound = district_balance(make_network(), reduced, settings=settings, works=no_works)
    assert set(sound.meter_checks["verdict"]) == {"agrees", "cannot_be_checked"}
    assert sound.without_meter.empty
    assert sound.meter_checks["off_share"].isna().all()
