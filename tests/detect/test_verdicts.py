"""Which rule holds where several could."""

from __future__ import annotations

from typing import Any

import numpy as np

from district.detect.standing import standing
from district.detect.verdicts import SIZE, WORTH_KNOWING_L_S, verdicts
from district.schema import empty
from district.schema.inputs import WORKS
from district.schema.stored import DAILY_VOLUMES, EMPTY_PERIODS
from district.settings import Settings
from tests.detect.still_series import household, network_of, quality_of, registered, still_of

NIGHT = (np.arange(24 * 40) % 24) < 6


def rules_of(
    series: dict[str, np.ndarray], step_l: float = 1.0, **settings: object
) -> dict[Any, tuple[str, str]]:
    stand = standing(
        still_of(series, empty=NIGHT),
        empty(EMPTY_PERIODS),
        empty(DAILY_VOLUMES),
        quality_of(*series, step_l=step_l),
        network_of(dict.fromkeys(series, "")),
    )
    before = stand.own.copy()
    table = verdicts(stand, empty(WORKS), Settings.model_validate(settings))
    assert stand.own.equals(before)
    told = table["verdict"].isin(["still", "constant_flow", "empty_flow", "below_resolution"])
    assert table.loc[told, list(SIZE)].notna().all(axis=None)
    assert (table["constant_l_s_low"] <= table["constant_l_s_high"])[told].all()
    names = table.set_index("meter_id")
    return {m: (row["verdict"], row["rule"]) for m, row in names.iterrows()}


def test_flow_in_every_hour_goes_before_empty_hours_and_lone_steps() -> None:
    litres = household(40, 1)
    found = rules_of(
        {
            "fast": registered(litres + 12.0, 10.0),
            "slow": registered(litres + 3.0, 10.0),
            "none": registered(litres, 10.0),
        },
        10.0,
    )
    assert found == {
        "fast": ("constant_flow", "never_zero"),
        "slow": ("constant_flow", "empty_hours"),
        "none": ("still", ""),
    }


def test_the_hours_of_the_rule_are_those_of_the_settings() -> None:
    litres = household(40, 1)
    litres[-60:] += 2.0
    for hours, rule in ((24, "never_zero"), (72, "")):
        assert rules_of({"A": litres}, events={"never_zero_h": hours})["A"][1] == rule


def test_silence_goes_before_all_but_old_readings() -> None:
    litres = household(40, 1)
    litres[24 * 5 :] = 0.0
    assert rules_of({"A": litres}) == {"A": ("dead", "")}
    short = household(40, 2)[: 24 * 20]
    assert rules_of({"A": short, "B": household(40, 3)})["A"] == ("too_few", "")


def test_what_is_worth_knowing_is_half_a_cup_a_minute() -> None:
    # 45 gal a day, by the arithmetic of the published half a cup (tests/published).
    assert WORTH_KNOWING_L_S * 86400 / 3.785411784 == 45.0
