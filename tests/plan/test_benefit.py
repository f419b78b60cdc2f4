"""Risk and benefit of each main."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.plan.ageing import discount_factors, new_rate_per_year
from district.plan.benefit import Scored, benefit_currency, scored
from district.plan.mains import mains_of
from district.renew_settings import Renew
from district.schema.renewal_tables import RENEWAL_PIPES
from tests.plan.made_town import costs_of, mains_table, rates_of, town

RENEW = Renew()


def score(count: int = 3, form: str = "exponential", **costs: object) -> Scored:
    table = mains_table(count, breaks_per_year=[0.02 * (n + 1) for n in range(count)])
    growth = 0.0 if form == "none" else 0.04
    rates = rates_of(table, form=form, growth=growth, draws=400)
    return scored(mains_of(rates, costs_of(table["pipe_id"], **costs)), RENEW)


def test_without_growth_the_benefit_is_the_breaks_avoided_by_an_annuity() -> None:
    found = score(form="none")
    new = new_rate_per_year([100.0], found.mains.table["diameter_mm"].iloc[:1])[0]
    # Payments in the middle of each year: the closed form of the geometric series.
    r = 1.035
    annuity = r**-0.5 * (1 - r**-40) / (1 - 1 / r)
    rate = np.array([0.02, 0.04, 0.06])
    assert found.table["benefit_currency"].to_numpy() == pytest.approx(
        (rate - new) * 5000.0 * annuity
    )
    assert found.table["benefit_cost_index"].to_numpy() == pytest.approx(
        (rate - new) * 5000.0 * annuity / 20_000
    )
    assert found.table["risk_currency_year"].to_numpy() == pytest.approx(rate * 5000.0)


def test_hidden_leakage_counts_once_and_dearer_breaks_by_their_share() -> None:
    hidden = score(hidden_currency=[0.0, 300.0, 0.0]).mains
    plain = score().mains
    horizon = {"horizon_years": 40, "discount_share": 0.035}
    base = benefit_currency(plain, **horizon)
    assert benefit_currency(hidden, **horizon) - base == pytest.approx([0.0, 300.0, 0.0])
    left = benefit_currency(hidden, **horizon, hidden_share=0.5)
    assert left - base == pytest.approx([0.0, 150.0, 0.0])
    dearer = benefit_currency(hidden, **horizon, dearer_share=0.25)
    assert dearer == pytest.approx(1.25 * base + [0.0, 300.0, 0.0])


def test_later_a_main_that_grows_is_worth_more() -> None:
    mains = score(2).mains
    grown = replace(mains, ageing=replace(mains.ageing, oldest_years=500.0))
    now = benefit_currency(grown, horizon_years=20, discount_share=0.03)
    later = benefit_currency(grown, horizon_years=20, discount_share=0.03, begin_year=5)
    new = benefit_currency(
        replace(grown, new_rate_per_year=np.zeros(2)), horizon_years=20, discount_share=0.03
    )
    # Breaks grow by e^0.2 in five years; those of a new main are the same then as now.
    assert later == pytest.approx(new * np.exp(0.2) - (new - now))


def test_limits_hold_the_figure_and_come_from_rates_and_costs() -> None:
    found = score()
    table = found.table
    assert list(table.columns) == list(RENEWAL_PIPES.names())
    for name in ("risk_currency_year", "benefit_currency", "benefit_cost_index"):
        assert (table[f"{name}_low"] < table[name]).all()
        assert (table[name] < table[f"{name}_high"]).all()
    both = found.mains.rate_draws * found.mains.draws("break_currency")
    told = np.quantile(both, (0.025, 0.975), axis=1)
    assert table["risk_currency_year_low"].to_numpy() == pytest.approx(told[0], rel=1e-5)
    assert table["risk_currency_year_high"].to_numpy() == pytest.approx(told[1], rel=1e-5)


def test_draws_of_the_benefit_are_made_as_the_benefit_is() -> None:
    found = score(hidden_currency=300.0)
    mains = found.mains
    for draw in (0, 17):
        growth = float(mains.ageing.growth[1 + draw])
        ahead = np.minimum(np.arange(40), 10.0)
        years = (discount_factors(40, discount_share=0.035) * np.exp(growth * ahead)).sum()
        young = np.exp(growth * (np.arange(40) + 0.5 - 50))
        new = (discount_factors(40, discount_share=0.035) * young).sum()
        avoided = mains.rate_draws[:, draw] * years - mains.new_rate_per_year * new
        by_hand = avoided * mains.draws("break_currency")[:, draw]
        by_hand = by_hand + mains.draws("hidden_currency")[:, draw]
        assert found.benefit_draws[:, draw] == pytest.approx(by_hand, rel=1e-4)


def test_renewal_that_costs_nothing_has_no_return() -> None:
    found = score(renewal_currency=[0.0, 10.0, 20.0])
    assert found.table["benefit_cost_index"].isna().tolist() == [True, False, False]


def test_inputs_are_not_written_to() -> None:
    rates, costs, _ = town(40, draws=20)
    before = rates.table.copy(), rates.draws.copy(), costs.copy()
    scored(mains_of(rates, costs), RENEW)
    assert rates.table.equals(before[0])
    assert (rates.draws == before[1]).all()
    assert costs.equals(before[2])


def test_no_mains_no_rows() -> None:
    found = scored(mains_of(rates_of(mains_table(0)), costs_of([])), RENEW)
    assert list(found.table.columns) == list(RENEWAL_PIPES.names())
    assert len(found.table) == 0
