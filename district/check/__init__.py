"""What is wrong with the input, said with its place before any figure is computed."""

from district.check.across_tables import check_tables
from district.check.coverage import check_coverage
from district.check.entries import check_form, check_valve_states
from district.check.field_records import check_dates
from district.check.topology import check_network

__all__ = [
    "check_coverage",
    "check_dates",
    "check_form",
    "check_network",
    "check_tables",
    "check_valve_states",
]
