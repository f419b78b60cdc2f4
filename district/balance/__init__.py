"""How much leaks: night, daily and annual balance, indicators and published bands."""

from district.balance.annual import complete_balance, under_registration_m3
from district.balance.audit import audit_table, improvements
from district.balance.background import background_l_s, service_bursts_count
from district.balance.days import daily_balance
from district.balance.district import district_balance
from district.balance.economics import survey_economics
from district.balance.exponent_fit import fit_exponent
from district.balance.exponents import zone_exponents
from district.balance.gap import explain_gap
from district.balance.indicators import (
    index_note,
    leakage_index,
    target_band,
    unavoidable_losses_l_d,
)
from district.balance.intervals import (
    economic_losses_m3,
    survey_budget_currency,
    survey_interval_months,
    surveyed_percent,
)
from district.balance.leak_law import exponent_of, leakage_number_of, leakage_ratio, power_law
from district.balance.metering import metering
from district.balance.night import NightBalance, night_balance
from district.balance.night_users import night_users
from district.balance.performance import annual_indicators
from district.balance.periods import night_periods, seven_nights
from district.balance.pressure import night_day_factor_h_d, zone_pressures
from district.balance.pressure_saving import zone_pressure
from district.balance.summary import zone_summary
from district.balance.volumes import daily_volumes
from district.balance.year import annual_balance
from district.estimates import Estimate, combine_limits, limit_variance, multiply_limits

__all__ = [
    "Estimate",
    "NightBalance",
    "annual_balance",
    "annual_indicators",
    "audit_table",
    "background_l_s",
    "combine_limits",
    "complete_balance",
    "daily_balance",
    "daily_volumes",
    "district_balance",
    "economic_losses_m3",
    "explain_gap",
    "exponent_of",
    "fit_exponent",
    "improvements",
    "index_note",
    "leakage_index",
    "leakage_number_of",
    "leakage_ratio",
    "limit_variance",
    "metering",
    "multiply_limits",
    "night_balance",
    "night_day_factor_h_d",
    "night_periods",
    "night_users",
    "power_law",
    "service_bursts_count",
    "seven_nights",
    "survey_budget_currency",
    "survey_economics",
    "survey_interval_months",
    "surveyed_percent",
    "target_band",
    "unavoidable_losses_l_d",
    "under_registration_m3",
    "zone_exponents",
    "zone_pressure",
    "zone_pressures",
    "zone_summary",
]
