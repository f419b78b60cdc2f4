"""Each closing value, put in place of the input, closes the gap."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance import district_balance
from district.settings import Allowance, ExceptionalUse, Settings

RULES = {
    "household": {"l_property_h": 1.7, "l_property_d": 350.0},
    "commercial": {"l_property_h": 8.0, "l_property_d": 1200.0},
}


def settings_of(**changes: Any) -> Settings:
    parts: dict[str, Any] = {
        "allowances": {n: Allowance(**r) for n, r in RULES.items()},
        "exceptional_use": (ExceptionalUse(zone_id="South", flow_l_s=0.05, note="wash"),),
        "annual": {"data_handling_share": 0.01},
    }
    return Settings(**(parts | changes))


def balance_of(network: Any, reduced: Any, works: Any, settings: Settings) -> Any:
    return district_balance(network, reduced, settings=settings, works=works)


def changed(name: str, closing: float) -> Settings:
    annual = {"data_handling_share": 0.01}
    key = {
        "unauthorised use": "unauthorised_share",
        "unbilled unmetered use": "unbilled_unmetered_share",
        "data handling error": "data_handling_share",
        "customer meters read low": "customer_under_registration_share",
    }.get(name)
    if key:
        return settings_of(annual=annual | {key: closing / 100})
    if name.startswith("exceptional"):
        return settings_of(
            exceptional_use=(ExceptionalUse(zone_id="South", flow_l_s=closing, note="wash"),)
        )
    kind = name.split()[0]
    quantity = "l_property_h" if name.endswith("night use") else "l_property_d"
    rules = RULES | {kind: RULES[kind] | {quantity: closing}}
    return settings_of(allowances={n: Allowance(**r) for n, r in rules.items()})


@pytest.mark.parametrize("inlet_m3", [130.0, 60.0, 95.0])
def test_every_closing_value_closes_the_gap(
    make_network: Any,
    make_reduced: Any,
    no_works: Any,
    day_table: Any,
    nights: Any,
    inlet_m3: float,
) -> None:
    """An independent way: the whole balance again, with the input changed to its closing value."""
    daily = day_table(nights, {"M1": inlet_m3, "M2": 30.0, "B1": 20.0, "C1": 4.0, "C2": 10.0})
    network, reduced = make_network(), make_reduced(daily_volumes=daily)
    found = balance_of(network, reduced, no_works, settings_of())
    tried = []
    for row in found.gap_causes[found.gap_causes["cell_id"] == "district"].itertuples():
        outside = row.unit.startswith("%") and not 0 <= row.closing_value <= 99
        if row.closing_value < 0 or outside or "zone meter" in row.input or "factor" in row.input:
            continue
        again = balance_of(network, reduced, no_works, changed(row.input, row.closing_value))
        gap = again.loss_gaps.set_index("cell_id").loc["district", "gap_m3"]
        assert gap == pytest.approx(0.0, abs=1e-6 * 365 * inlet_m3), row.input
        tried.append(row.input)
    assert len(tried) >= 3


def test_the_night_to_day_factor_by_hand(
    make_network: Any, make_reduced: Any, no_works: Any
) -> None:
    found = balance_of(make_network(), make_reduced(), no_works, settings_of())
    row = found.gap_causes.set_index(["cell_id", "input"]).loc[("South", "night-to-day factor")]
    gap = found.loss_gaps.set_index("cell_id").loc["South"]
    assert row["value"] == pytest.approx(24.0)
    assert row["closing_value"] == pytest.approx(24 * gap["top_down_m3"] / gap["bottom_up_m3"])
    # 18 to 26 where no logger tells the pressure.
    side = 2.0 if gap["gap_m3"] > 0 else 6.0
    by_hand = abs(row["closing_value"] - 24) / (side / 1.96)
    assert row["deviations_index"] == pytest.approx(by_hand)


def test_impossible_values_are_marked(make_network: Any, make_reduced: Any, no_works: Any) -> None:
    causes = balance_of(make_network(), make_reduced(), no_works, settings_of()).gap_causes
    limited = causes[causes["unit"].str.startswith("L/")]
    assert (limited["possible"] == (limited["closing_value"] >= 0)).all()
    assert np.isfinite(causes["value"]).all()
    assert set(causes["cell_id"]) == {"district", "North", "South"}
