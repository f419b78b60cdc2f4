from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
import pytest

from district.balance.closing import Closing
from district.balance.naming import Fault
from district.balance.zone_checks import zone_checks


def closed(**changes: Any) -> Closing:
    parts: dict[str, Any] = {f.name: np.full(4, 0.1) for f in fields(Closing)}
    parts |= {
        "days_count": 28,
        "statistic_index": 3.0,
        "freedom_count": 4,
        "critical_index": 9.49,
        "one_critical_index": 10.0,
    }
    return Closing(**(parts | changes))


def test_night_and_day_that_agree(draw_equations: Any, pairs: Any) -> None:
    table = zone_checks(draw_equations(days_count=60), closed(), (), pairs=pairs)
    assert list(table["cell_id"]) == ["district", "Z0", "Z1", "Z2", "Z3"]
    assert (table["verdict"] == "agrees").all()
    assert not table["act"].any()
    assert "Night and day of 4 zones agree" in table["reason"].iloc[0]


def test_night_and_day_that_do_not_and_zones_not_known(draw_equations: Any, pairs: Any) -> None:
    found = closed(
        statistic_index=30.0,
        zone_index=np.array([25.0, 1.0, np.nan, 1.0]),
        residual_l_s=np.array([-0.42, 0.0, np.nan, 0.0]),
    )
    table = zone_checks(draw_equations(days_count=60), found, (), pairs=pairs)
    verdicts = table.set_index("cell_id")["verdict"]
    assert verdicts["district"] == verdicts["Z0"] == "does_not_close"
    assert verdicts["Z2"] == "cannot_be_checked"
    assert "By day 0.42 L/s less flows in" in table["reason"].iloc[1]


def test_an_unmetered_flow_names_both_zones_and_the_valve(draw_equations: Any, pairs: Any) -> None:
    known = draw_equations(days_count=60)
    fault = Fault(
        "pair", 1, 30, 30, 31, 0.0, 0.0, 90.0, 3.0, "meter M2", night_l_s=-0.3, day_l_s=-0.28
    )
    table = zone_checks(known, closed(), (fault,), pairs=pairs).set_index("cell_id")
    assert table.loc["Z1", "unmetered_l_s"] == pytest.approx(-0.3)
    assert table.loc["Z2", "unmetered_l_s"] == pytest.approx(0.3)
    assert table.loc["Z1", "other_cell_id"] == "Z2"
    assert bool(table.loc["Z2", "act"])
    for cell in ("Z1", "Z2"):
        reason = table.loc[cell, "reason"]
        assert (
            "about 0.3 L/s by night pass from zone Z1 to zone Z2 and no meter sees them" in reason
        )
        assert "Check that V12 is shut" in reason
        assert "About 20 to 1 against the next best explanation, meter M2" in reason
