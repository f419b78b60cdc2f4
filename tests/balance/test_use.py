"""Allowances by class."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.balance.use import day_use, night_use
from district.settings import Allowance, ExceptionalUse, Settings

CELLS = pd.Index(["A", "B"], dtype=object)
HOMES = {"A": "A", "B": "B", "east": "B"}
USERS = pd.DataFrame(
    {
        "cell": [0, 0, 1],
        "properties": [100.0, 2.0, 30.0],
        "use_class": ["household", "commercial", "dyeworks"],
        "meter_id": "",
    }
)


def test_night_use_by_hand() -> None:
    use = night_use(USERS, CELLS, homes=HOMES, settings=Settings())
    assert use.mean * 3600 == pytest.approx([100 * 1.7 + 2 * 8, 30 * 1.7])
    # 40 % of each class at 95 %, classes in quadrature.
    assert use.systematic[0] * 1.96 * 3600 == pytest.approx(np.hypot(0.4 * 170, 0.4 * 16))
    # Draws of 6 L, ±90 %: mean square over mean by hand.
    assert use.burst * 3600 == pytest.approx(
        [6 * 186 * (1 + (0.9 / 1.96) ** 2), 6 * 51 * (1 + (0.9 / 1.96) ** 2)]
    )


def test_unknown_class_takes_the_household_allowance_and_is_said() -> None:
    use = night_use(USERS, CELLS, homes=HOMES, settings=Settings())
    assert use.limits == (
        "Connections with no allowance for dyeworks: 1; the household allowance is used. "
        "Add the class under [allowances] in district.toml.",
    )


def test_own_allowances_are_used() -> None:
    own = Settings(
        allowances={"dyeworks": Allowance(l_property_h=3600, burst_l=500, burst_spread_share=0)}
    )
    use = night_use(USERS, CELLS, homes=HOMES, settings=own)
    assert use.mean[1] == pytest.approx(30.0)
    assert use.burst[1] == pytest.approx(30.0 * 500)
    assert use.cube[1] == pytest.approx(30.0 * 500**2)  # type: ignore[index]
    assert use.unsure[1] == pytest.approx(30.0**2 * 500 * (0.4 / 1.96) ** 2)  # type: ignore[index]
    assert use.limits == ()


def test_exceptional_use_finds_its_zone_or_is_said_to_be_lost() -> None:
    extra = (
        ExceptionalUse(zone_id="east", flow_l_s=0.5, note="bakery"),
        ExceptionalUse(zone_id="west", flow_l_s=9.0),
    )
    use = night_use(USERS.iloc[:0], CELLS, homes=HOMES, settings=Settings(exceptional_use=extra))
    assert use.mean.tolist() == [0.0, 0.5]
    assert use.systematic[1] * 1.96 == pytest.approx(0.1)
    assert use.assumptions == ("Exceptional night use in east: 0.5 L/s, ±20 % (bakery).",)
    assert use.limits == ("Exceptional use in west is not counted: no balanced zone has this id.",)


def test_day_use_by_hand() -> None:
    use = day_use(USERS, CELLS, settings=Settings())
    assert use.mean == pytest.approx([100 * 0.35 + 2 * 1.2, 30 * 0.35])
    assert use.systematic[1] * 1.96 == pytest.approx(0.4 * 10.5)


def test_nobody_uses_nothing() -> None:
    use = night_use(USERS.iloc[:0], CELLS, homes=HOMES, settings=Settings())
    assert use.mean.tolist() == [0.0, 0.0]
    assert use.assumptions == ()


def test_users_of_one_note_stay_apart() -> None:
    extra = [
        ExceptionalUse(zone_id="east", flow_l_s=flow, note=note)
        for flow, note in ((0.5, "dairy"), (0.3, "dairy"), (0.2, ""), (0.1, ""), (0.4, "household"))
    ]
    use = night_use(USERS, CELLS, homes=HOMES, settings=Settings(exceptional_use=tuple(extra)))
    names = [part.name for part in use.parts]
    assert names[-5:] == [
        "dairy",
        "dairy (2)",
        "exceptional use in east",
        "exceptional use in east (2)",
        "household (2)",
    ]
    assert len(set(names)) == len(names)
