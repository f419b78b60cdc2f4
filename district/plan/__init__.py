"""Which pipes to renew: how often they break, what that costs, what to renew under a budget."""

from district.plan.backtest import backtest
from district.plan.failure_rates import pipe_rates
from district.plan.growth import growth_factor, growth_per_year, years_at_mean_age
from district.plan.history import History, cells_of, pipe_history

__all__ = [
    "History",
    "backtest",
    "cells_of",
    "growth_factor",
    "growth_per_year",
    "pipe_history",
    "pipe_rates",
    "years_at_mean_age",
]
