"""Which pipes to renew: how often they break, what that costs, what to renew under a budget."""

from district.plan.above import above_pipes
from district.plan.backtest import backtest
from district.plan.costs import PipeCosts, pipe_costs
from district.plan.doubts import doubts
from district.plan.failure_rates import pipe_rates
from district.plan.growth import growth_factor, growth_per_year, years_at_mean_age
from district.plan.history import History, cells_of, pipe_history
from district.plan.renewal import RenewalList, renewal_list, usual_budget_currency
from district.plan.streets import pipe_streets
from district.plan.survey_year import SurveyYear, survey_year, year_said

__all__ = [
    "History",
    "PipeCosts",
    "RenewalList",
    "SurveyYear",
    "above_pipes",
    "backtest",
    "cells_of",
    "doubts",
    "growth_factor",
    "growth_per_year",
    "pipe_costs",
    "pipe_history",
    "pipe_rates",
    "pipe_streets",
    "renewal_list",
    "survey_year",
    "usual_budget_currency",
    "year_said",
    "years_at_mean_age",
]
