"""Which pipes to renew: how often they break, what that costs, what to renew under a budget."""

from district.plan.growth import growth_factor, growth_per_year, years_at_mean_age

__all__ = ["growth_factor", "growth_per_year", "years_at_mean_age"]
