"""The mains by street and by material."""

from __future__ import annotations

import numpy as np
import pytest

from district.plan.groups import NOT_KNOWN, renewal_groups
from district.plan.mains import mains_of
from district.schema.renewal_tables import RENEWAL_GROUPS
from tests.plan.made_town import costs_of, mains_table, rates_of


def test_sums_means_and_limits() -> None:
    table = mains_table(
        4,
        street=["Mill Lane", "", "Mill Lane", "High Street"],
        material=["pvc", "cast_iron", "cast_iron", "cast_iron"],
        length_m=[100.0, 200.0, 300.0, 400.0],
        age_year=[10.0, 20.0, 30.0, np.nan],
        breaks_count=[0.0, 1.0, 2.0, 3.0],
        breaks_per_year=[0.01, 0.05, 0.07, 0.04],
    )
    mains = mains_of(rates_of(table), costs_of(table["pipe_id"]))
    found = renewal_groups(mains, [True, False, True, True])
    assert list(found.columns) == list(RENEWAL_GROUPS.names())
    assert found["group"].tolist() == ["street"] * 3 + ["material"] * 2
    # By breaks for each kilometre: 25, 20 and 10; 17.8 and 10 for each 100 km.
    assert found["name"].tolist() == [NOT_KNOWN, "Mill Lane", "High Street", "cast_iron", "pvc"]
    lane = found.iloc[1]
    assert lane["pipes_count"] == 2
    assert lane["length_km"] == pytest.approx(0.4)
    assert lane["mean_age_year"] == pytest.approx((10 + 90) / 4)
    assert lane["breaks_count"] == 2
    assert lane["exposure_km_year"] == 4
    assert lane["breaks_per_year"] == pytest.approx(0.08)
    assert lane["breaks_per_100_km_year"] == pytest.approx(20.0)
    assert lane["listed_km"] == pytest.approx(0.4)
    assert lane["cost_currency"] == 40_000.0
    draws = mains.rate_draws[[0, 2]].sum(axis=0)
    assert lane["breaks_per_year_low"] == pytest.approx(np.quantile(draws, 0.025), rel=1e-4)
    assert lane["breaks_per_year_high"] == pytest.approx(np.quantile(draws, 0.975), rel=1e-4)
    assert np.isnan(found["mean_age_year"][2])
    by_group = found.groupby("group")["length_km"].sum()
    assert by_group.tolist() == pytest.approx([1.0, 1.0])


def test_without_mains_there_are_no_groups() -> None:
    found = renewal_groups(mains_of(rates_of(mains_table(0)), costs_of([])), [])
    assert list(found.columns) == list(RENEWAL_GROUPS.names())
    assert len(found) == 0
