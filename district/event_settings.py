"""Settings of events: the change test, nights that are not like others, empty hours, shutting off.

What `district.settings` reads under [events], [[holidays]], [[empty_hours]] and [shut_off].
"""

from __future__ import annotations

from datetime import date, time
from typing import Literal

from pydantic import Field, model_validator

from district.balance_settings import NotNegative, Positive
from district.layer_settings import Part

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


class Events(Part):
    """The change test, and flow in buildings that never stops."""

    false_alarms_per_year: Positive = Field(
        default=0.5, description="false alarms you accept, by zone or building"
    )
    smallest_l_s: NotNegative = Field(default=0.03, description="smaller changes are not listed")
    # Above zero in every hour of a day: common practice, no source.
    never_zero_h: float = Field(
        default=24.0,
        ge=6,
        le=336,
        description="flow in a building that is never zero for so many hours is told",
    )


class Holiday(Part):
    """Days on which people use water unlike on others: public holidays, vacations."""

    first: date = Field(description="first day people are away or use water unlike usually")
    last: date | None = Field(default=None, description="last day; the first if not said")
    name: str = Field(default="", description="what it is")

    @model_validator(mode="after")
    def _order(self) -> Holiday:
        if self.last is not None and self.last < self.first:
            raise ValueError(f"a last day from {self.first} on")
        return self


class EmptyHours(Part):
    """When nobody is in some buildings, so that their meters should stand still."""

    places: tuple[str, ...] = Field(description="building_ids or meter_ids that are empty then")
    weekdays: tuple[Weekday, ...] = Field(default=WEEKDAYS, description="on these days")
    start: time = Field(description="from this time, local")
    end: time = Field(description="to this time; on the next day where it is not later")


class ShutOff(Part):
    """Valves that shut by themselves when flow lasts."""

    false_trips_per_year: Positive = Field(
        default=0.5, description="times a year you accept that such a valve shuts without a leak"
    )
    advise_all: bool = Field(
        default=False,
        description="advise settings for every building with an interval meter, not only where "
        "there is such a valve or was a leak",
    )
