"""The lines of the annual balance that no other makes, by zone."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance.annual import DISTRICT, LINES
from district.balance.audit_leaves import ASSUMED, SHARES, WORDS, lines_of
from district.settings import Annual


def test_lines_come_back_from_the_table_by_key(audited: Any) -> None:
    lines = lines_of(audited.annual, [DISTRICT, "South", "nowhere"])
    assert set(lines) == {key for key, *_ in LINES}
    assert lines["system_input"].value[0] == pytest.approx(130 * 365)
    assert np.isnan(lines["real"].value[2])


def test_each_share_has_its_setting() -> None:
    assert set(ASSUMED.values()) <= set(Annual.model_fields)
    assert set(SHARES) <= set(WORDS)


def test_a_zone_of_the_year_by_hand(audited: Any) -> None:
    rows = audited.audit[audited.audit["cell_id"] == "North"].set_index(["figure", "input"])
    sold = rows.loc["billed metered consumption"].iloc[1]
    assert sold.name == "meters of users with readings (2)"
    assert sold["value"] == pytest.approx(365 * (25 + 4))
    line = WORDS["unbilled_unmetered"]
    share = rows.loc[(line, f"{line}, as a share")]
    assert (share["value_low"], share["value"], share["value_high"]) == (0.0025, 0.005, 0.0075)
    assert share["source"] == "[annual] unbilled_unmetered_share in district.toml"
    assert share["raises"] == pytest.approx(0.0025 * (130 - 50) * 365)


def test_losses_from_nights_have_a_factor_weighted_by_leakage(audited: Any) -> None:
    rows = audited.audit[audited.audit["cell_id"] == "North"].set_index(["figure", "input"])
    nights = rows.loc["real losses, bottom-up from night flows"]
    flow = nights.loc["night leakage, mean of the year's nights", "value"]
    factor = nights.loc["night-to-day factor, weighted by the nights' leakage", "value"]
    assert nights["value"].iloc[0] == pytest.approx(flow * factor * 3.6 * 365)
    mean = audited.nights[audited.nights["cell_id"] == "North"]["leakage_l_s"].mean()
    assert flow == pytest.approx(mean)
