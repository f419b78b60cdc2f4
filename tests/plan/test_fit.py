"""Rates fitted to drawn records, and what pooling does to pipes of few breaks."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.plan.fit import BARE_MENTION, GROWTH_PRIOR, fit_rates, levels
from district.plan.history import History, pipe_history
from district.plan.rates import drawn_rates, own_index
from district.settings import Settings
from district.simulate.break_trial import draw_breaks_of_a_register
from tests.plan.made_history import breaks_of, history_of, pipes_of, settings_of


def drawn(seed: int = 3, **changes: float) -> tuple[History, Settings]:
    trial = draw_breaks_of_a_register(seed, pipes_count=6000, breaks_count=1200, **changes)
    settings = settings_of(record_dates=(pd.Timestamp(trial.first, 1, 1).date(),
                                         pd.Timestamp(trial.split - 1, 12, 31).date()))  # fmt: skip
    found = pipe_history(
        trial.pipes, trial.breaks, settings=settings, year=trial.split, cells=trial.cells
    )
    return found, settings


@pytest.mark.parametrize("growth", [0.0, 0.035, 0.06])
def test_growth_and_unlikeness_are_found_again(growth: float) -> None:
    history, settings = drawn(growth_per_year=growth)
    fit = fit_rates(
        history, settings=settings_of(**{**settings.renew.model_dump(), "growth": "exponential"})
    )
    spread = np.sqrt(fit.covariance[-1, -1])
    assert abs(fit.value[-1] - growth) < 3 * spread
    assert spread < 0.006
    assert abs(fit.log_shape - np.log(3.0)) < 3 * fit.log_shape_spread


def test_the_form_that_drew_the_breaks_is_chosen() -> None:
    history, settings = drawn(growth_per_year=0.05)
    fit = fit_rates(history, settings=settings)
    assert fit.form == "exponential"
    assert fit.lead_index > BARE_MENTION


def test_young_pipes_keep_their_rate_where_the_form_is_hardly_told() -> None:
    """Of this register a power of age explains the record a little better, with young pipes thirty
    times below their true rates."""
    trial = draw_breaks_of_a_register(307, pipes_count=1000, breaks_count=200)
    dates = (pd.Timestamp(trial.first, 1, 1).date(), pd.Timestamp(trial.split - 1, 12, 31).date())
    history = pipe_history(
        trial.pipes, trial.breaks, settings=settings_of(record_dates=dates), year=trial.split,
        cells=trial.cells,
    )  # fmt: skip
    fit = fit_rates(history, settings=settings_of())
    assert (fit.form, fit.lead_index < 0) == ("exponential", True)
    expected, _ = drawn_rates(fit, history, year=float(trial.split))
    young = history.table["installed_year"].to_numpy() > trial.split - 10
    true = pd.Series(trial.true_rate, index=trial.pipes["pipe_id"]).reindex(
        history.table["pipe_id"]
    )
    assert 0.3 < expected[young].sum() / true[young].sum() < 3


def test_breaks_that_go_with_a_power_of_age_are_told_as_such() -> None:
    # As many breaks on each pipe while it is watched as a power of 1.5 expects, at even times.
    rows, pipes = [], []
    for n in range(120):
        age = 3 + 80 * (n / 120)
        pipes.append({"pipe_id": f"P{n}", "installed_year": float(round(2000 - age))})
        count = round(10 * (age / 83) ** 1.5)
        rows += [(f"{2000 + int(19 * (k + 0.5) / count)}-0{1 + n % 9}-11", f"P{n}")
                 for k in range(count)]  # fmt: skip
    fit = fit_rates(history_of(pipes_of(*pipes), breaks_of(*rows)), settings=settings_of())
    assert fit.form == "power"
    assert fit.lead_index > BARE_MENTION


def test_of_forms_that_nothing_tells_apart_it_is_the_first() -> None:
    pipes = pipes_of(*({"pipe_id": f"P{n}", "installed_year": 1900.0 + n} for n in range(40)))
    history = pipe_history(pipes, breaks_of(), settings=Settings(), year=2020)
    fit = fit_rates(history, settings=Settings())
    assert (fit.form, fit.lead_index) == ("exponential", 0.0)
    alone = fit_rates(history, settings=settings_of(growth="power", record_dates=()))
    assert alone.lead_index == np.inf


def test_a_short_pipe_with_one_break_does_not_lead() -> None:
    # 5 m with one break is 1 break in 0.1 km years; 3 km with nine is 0.15 a km year.
    pipes = pipes_of(
        {"pipe_id": "short", "length_m": 5.0},
        {"pipe_id": "long", "length_m": 3000.0},
        *({"pipe_id": f"like {n}", "length_m": 1000.0} for n in range(10)),
    )
    breaks = breaks_of(
        ("2010-05-05", "short"), *((f"20{y:02d}-05-05", "long") for y in range(2, 20, 1)),
        *((f"20{y:02d}-08-08", f"like {y % 10}") for y in range(10)),
    )  # fmt: skip
    history = history_of(pipes, breaks)
    own = dict(
        zip(
            history.table["pipe_id"],
            own_index(fit_rates(history, settings=settings_of()), history),
            strict=True,
        )
    )
    assert 1.0 < own["short"] < own["long"]


def test_without_a_record_the_rates_are_the_published_ones() -> None:
    # Folkman 2018 (from memory): cast iron 34.8, PVC 2.3 per 100 miles a year: 0.2162 and 0.0143
    # a km year, at 50 years of age and 150 mm.
    pipes = pipes_of({"pipe_id": "A"}, {"pipe_id": "B", "material": "pvc"})
    history = pipe_history(pipes, breaks_of(), settings=Settings(), year=2020)
    fit = fit_rates(history, settings=Settings())
    assert levels(fit, fit.value) == pytest.approx([0.21624, 0.01429], rel=1e-3)
    assert fit.value[-1] == GROWTH_PRIOR[fit.form][0]
    assert not fit.with_breaks


def test_years_without_a_break_speak_too() -> None:
    pipes = pipes_of(*({"pipe_id": f"P{n}"} for n in range(20)))
    fit = fit_rates(history_of(pipes, breaks_of()), settings=settings_of())
    # 400 km years of cast iron would see some 100 breaks.
    assert (levels(fit, fit.value) < 0.25 * 0.21624).all()


def test_one_break_moves_the_rates_little() -> None:
    pipes = pipes_of({"pipe_id": "A"}, {"pipe_id": "B"})
    history = pipe_history(pipes, breaks_of(("2019-03-03", "A")), settings=Settings(), year=2020)
    fit = fit_rates(history, settings=Settings())
    assert (np.abs(np.log(levels(fit, fit.value) / 0.21624)) < 0.7).all()


@pytest.mark.parametrize("said", ["exponential", "power", "none"])
def test_the_settings_may_name_the_form(said: str) -> None:
    history = history_of(pipes_of({"pipe_id": "A"}), breaks_of(("2010-01-01", "A")))
    assert fit_rates(history, settings=settings_of(growth=said)).form == said
