"""The mains with their costs, in one order."""

from __future__ import annotations

import numpy as np
import pytest

from district.plan.mains import mains_of
from tests.plan.made_town import costs_of, mains_table, rates_of


def test_rates_draws_and_costs_are_laid_beside_each_other_in_natural_order() -> None:
    names = ["P10", "P9", "P2"]
    table = mains_table(3, pipe_id=names, age_year=[10.0, 9.0, 2.0], length_m=[100.0, 90.0, 20.0])
    rates = rates_of(table)
    costs = costs_of(["P9", "P10", "P2", "P77"], renewal_currency=[9.0, 10.0, 2.0, 77.0])
    mains = mains_of(rates, costs)
    assert list(mains.table["pipe_id"]) == ["P2", "P9", "P10"]
    assert mains.real("renewal_currency").tolist() == [2.0, 9.0, 10.0]
    assert mains.ageing.age_years[mains.age_at].tolist() == [2.0, 9.0, 10.0]
    assert (mains.rate_draws == rates.draws[[2, 1, 0]]).all()
    assert np.argsort(mains.new_rate_per_year).tolist() == [0, 1, 2]
    assert list(mains.table.columns).count("pipe_id") == 1


def test_a_main_without_costs_is_an_error() -> None:
    with pytest.raises(KeyError):
        mains_of(rates_of(mains_table(2)), costs_of(["P1"]))


def test_amounts_are_drawn_by_their_limits_and_sites_with_renewal() -> None:
    mains = mains_of(rates_of(mains_table(2), draws=400), costs_of(["P1", "P2"]))
    draws = mains.draws("renewal_currency")
    assert draws.shape == (2, 400)
    assert np.quantile(draws[0], [0.025, 0.975]) == pytest.approx([14_000, 26_000], rel=0.02)
    site = mains.site_draws(4000.0, 0.3)
    assert np.corrcoef(site, draws[0])[0, 1] > 0.99
    assert abs(np.corrcoef(mains.draws("break_currency")[0], draws[0])[0, 1]) < 0.2
    assert (mains.site_draws(0.0, 0.3) == 0).all()


def test_what_is_empty_counts_as_nothing() -> None:
    costs = costs_of(["P1", "P2"], hidden_currency=[np.nan, 5.0])
    mains = mains_of(rates_of(mains_table(2)), costs)
    assert mains.real("hidden_currency").tolist() == [0.0, 5.0]
    assert (mains.draws("hidden_currency")[0] == 0).all()
