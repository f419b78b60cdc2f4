"""Settings of the night and annual balance, each with its stated default."""

from __future__ import annotations

from datetime import time
from typing import Annotated, Literal

from pydantic import Field
from pydantic.functional_validators import model_validator

from district.layer_settings import Part

_MOST = 1e6  # Beyond this no setting means anything, and squares of figures overflow.
Positive = Annotated[float, Field(ge=1e-6, le=_MOST)]
NotNegative = Annotated[float, Field(ge=0, le=_MOST)]
Exponent = Annotated[float, Field(gt=0, le=5)]
Share = Annotated[float, Field(ge=0, le=1)]


def _hours(start: time, end: time) -> float:
    return (end.hour - start.hour) + (end.minute - start.minute) / 60


class Night(Part):
    """The night window, local time."""

    start: time = Field(default=time(2), description="start of the night window")
    end: time = Field(default=time(4), description="end of the night window")
    window: Literal["fixed", "rolling"] = Field(
        default="fixed", description="fixed: from start to end; rolling: each zone's lowest hour"
    )
    search_start: time = Field(
        default=time(0), description="the lowest rolling hour is sought from here"
    )
    search_end: time = Field(default=time(6), description="and to here")
    recent_nights: int = Field(
        default=28, ge=1, le=366, description="how many of the last nights the zone figures rest on"
    )
    # About 500 litres an hour: common practice, no source.
    exceptional_l_s: Positive = Field(
        default=0.14, description="a metered user that draws this at night is listed as exceptional"
    )

    @model_validator(mode="after")
    def _order(self) -> Night:
        if any(t.tzinfo for t in (self.start, self.end, self.search_start, self.search_end)):
            raise ValueError(
                "times such as 02:00:00 of the district's own clock, without an offset"
            )
        if not self.start < self.end or not self.search_start < self.search_end:
            raise ValueError("a window that ends after it starts, on the same date")
        if _hours(self.search_start, self.search_end) < 1.0:
            raise ValueError(
                "an hour or more from search_start to search_end, to seek the lowest hour in"
            )
        return self

    def window_h(self) -> float:
        """Length of the window on an ordinary night, hours."""
        return _hours(self.start, self.end)


class Allowance(Part):
    """Night use of a use class where it is not measured."""

    l_property_h: NotNegative = Field(
        description="night use where it is not measured, litres per property and hour"
    )
    spread_share: NotNegative = Field(
        default=0.4, description="how far a zone's true mean may lie from it (95 %)"
    )
    # A small zone's night is lumpy: a flush of 1.5 US gallons, Thornton, Sturm & Kunkel 2008,
    # p. 137. Its spread is common practice, no source: 4 gallons of an old cistern (same page) are
    # beyond it, a hand washed is below.
    burst_l: Positive = Field(default=6.0, description="litres drawn at once, on average")
    burst_spread_share: NotNegative = Field(
        default=0.9, description="how far one draw may lie from that (95 %)"
    )
    l_property_d: NotNegative = Field(default=350.0, description="daily use without a meter")


class Background(Part):
    """Background leakage at 50 m, by component.

    Source of the defaults: Lambert et al. 1999, J Water SRT - Aqua 48(6) (from memory).
    """

    mains_l_km_h: NotNegative = Field(
        default=20.0, description="background leakage of mains at 50 m"
    )
    connection_l_connection_h: NotNegative = Field(
        default=1.25, description="background leakage of connections at 50 m"
    )
    private_l_km_h: NotNegative = Field(
        default=33.0, description="background leakage of private pipes at 50 m"
    )
    condition_factor: Positive = Field(
        default=1.5, description="how your network compares with the best"
    )
    # The least there is, Thornton, Sturm & Kunkel 2008, p. 139. Their rough start for networks
    # nobody knows, the mean of 1 and the largest, 3.5 of 1 to 6, would tell crews not to look for
    # most leaks of an ordinary zone. 1.5 and 3 are common practice, no source; the older set of
    # components for average condition is 2 to 2.4 times this one (from memory).
    condition_factor_low: Positive = Field(default=1.0, description="its lower limit")
    condition_factor_high: Positive = Field(default=3.0, description="its upper limit")
    exponent: Exponent = Field(default=1.5, description="how background grows with pressure")


class Pressure(Part):
    """Pressure where no logger tells it, and the leakage-pressure exponent."""

    assumed_m: Positive = Field(default=40.0, description="zone pressure where no logger tells it")
    assumed_spread_m: NotNegative = Field(
        default=10.0, description="95 % limit of that, either way"
    )
    # Mean of surveyed zones; Thornton, Sturm & Kunkel 2008, table 10.9.
    exponent: Exponent = Field(default=1.15, description="how leakage grows with pressure")
    exponent_low: Exponent = Field(default=0.5, description="its lower limit")
    exponent_high: Exponent = Field(default=1.5, description="its upper limit")
    fit: bool = Field(
        default=True, description="whether a zone's own record may tell its exponent better"
    )
    form: Literal["power", "fixed_and_variable_area"] = Field(
        default="power", description="power, or fixed_and_variable_area by a leakage number"
    )
    # The number that agrees with the exponent 1.15; 100 is as good as all variable.
    leakage_number: NotNegative = Field(
        default=1.86, description="flow through variable area over that through fixed area"
    )
    leakage_number_low: NotNegative = Field(default=0.0, description="its lower limit")
    leakage_number_high: NotNegative = Field(default=100.0, description="its upper limit")
    leakage_number_head_m: Positive = Field(
        default=40.0, description="pressure the leakage number is stated at"
    )
    standard_m: Positive = Field(
        default=50.0, description="pressure that leakage is brought to, to compare nights and zones"
    )


class Annual(Part):
    """Parts of the annual balance that are assumed, not measured (shares of system input)."""

    unbilled_unmetered_share: Share = Field(
        default=0.005, description="unbilled unmetered use, a share of system input"
    )
    unauthorised_share: Share = Field(
        default=0.0025, description="unauthorised use, a share of system input"
    )
    assumed_spread_share: NotNegative = Field(
        default=0.5, description="95 % limit of the assumed parts, as a share of each"
    )
    # Common practice, no source: mid-aged mechanical meters read a little low.
    customer_under_registration_share: Share = Field(
        default=0.02,
        description="how much meters of role customer miss; those of buildings are taken as read",
    )
    data_handling_share: Share = Field(
        default=0.0, description="use lost in reading and billing, a share of metered use"
    )
    # Common practice, no source: bills and readings are never quite the same water.
    data_handling_spread_share: Share = Field(
        default=0.0025, description="95 % limit of that, either way, as a share of metered use"
    )
    unbilled_classes: tuple[str, ...] = Field(
        default=(), description="classes of use that are not billed"
    )
    imported_meters: tuple[str, ...] = Field(
        default=(), description="zone meters through which water is bought from others"
    )
    tank_losses_m3_d: NotNegative = Field(
        default=0.0, description="leakage and overflow of tanks inside the zones, m³ a day"
    )


class Costs(Part):
    """What water costs, what it is sold for, and what it costs to look for leaks."""

    water_currency_m3: NotNegative = Field(
        default=0.8, description="what a cubic metre of water costs"
    )
    sold_currency_m3: NotNegative = Field(default=1.8, description="what it is sold for")
    # No source: ask whoever would walk your mains.
    survey_currency_km: NotNegative = Field(
        default=200.0, description="what it costs to survey a kilometre of mains for leaks"
    )
    running_currency_year: Annotated[float, Field(ge=0, le=1e12)] = Field(
        default=0.0, description="what running the district costs in a year; 0 if not told"
    )


class ExceptionalUse(Part):
    """A known night user without an interval meter."""

    zone_id: str = Field(description="zone of a known night user without an interval meter")
    flow_l_s: NotNegative = Field(description="what it draws at night")
    spread_share: NotNegative = Field(default=0.2, description="95 % limit of it, as a share of it")
    note: str = Field(default="", description="what it is")
