"""Settings of the plan of renewal: the record of breaks, money, and how pipes may be listed.

Costs, people's time and what lies above a pipe are assumptions without a source: set your own.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field
from pydantic.functional_validators import field_validator

from district.balance_settings import NotNegative, Positive, Share
from district.layer_settings import Part
from district.schema.inputs import SURFACE_KINDS

Money = Annotated[float, Field(ge=0, le=1e12)]


class Surface(Part):
    """What something above a pipe adds, by kind."""

    repair_share: NotNegative = Field(
        default=0.0, description="by which it makes a repair dearer, a share of that"
    )
    damage_currency: Money = Field(default=0.0, description="damage and delay there by a break")
    renewal_share: NotNegative = Field(
        default=0.0, description="by which it makes renewal dearer, a share of that"
    )


SURFACES: dict[str, Surface] = {
    "main_road": Surface(repair_share=1.0, damage_currency=5000.0, renewal_share=0.5),
    "road": Surface(repair_share=0.3, damage_currency=1000.0, renewal_share=0.2),
    "path": Surface(),
    "railway": Surface(repair_share=2.0, damage_currency=20_000.0, renewal_share=2.0),
    "building": Surface(repair_share=2.0, damage_currency=30_000.0, renewal_share=2.0),
    "other": Surface(),
}


class Renew(Part):
    """Which pipes to renew."""

    record_dates: tuple[date, ...] = Field(
        default=(),
        description="first and last day of the record of breaks; told by the breaks if not set",
    )
    growth: Literal["either", "exponential", "power", "none"] = Field(
        default="either",
        description="how breaks grow with age: exponential, power, none, or either, whichever the "
        "breaks speak for",
    )
    budget_currency: Money = Field(
        default=0.0, description="for a year; 0: one hundredth of what renewing all mains costs"
    )
    # HM Treasury, The Green Book: 3.5 % for the first thirty years (from memory).
    discount_share: float = Field(
        default=0.035, ge=0, le=0.2, description="by which money is worth less each year"
    )
    horizon_years: int = Field(
        default=40, ge=1, le=100, description="years over which savings count"
    )
    renewal_currency_m: Positive = Field(
        default=150.0, description="what renewing a metre costs, whatever its bore"
    )
    renewal_bore_currency_m: NotNegative = Field(
        default=80.0, description="and more for each 100 mm of bore"
    )
    site_currency: NotNegative = Field(default=4000.0, description="what each site costs beside it")
    site_least_m: NotNegative = Field(
        default=50.0, description="least length renewed at a site, or all of a shorter street"
    )
    repair_currency: NotNegative = Field(
        default=2500.0, description="what a repair of a main costs, whatever its bore"
    )
    repair_bore_currency: NotNegative = Field(
        default=500.0, description="and more for each 100 mm of bore"
    )
    cost_spread_share: Share = Field(
        default=0.3, description="how far these costs may lie from that (95 %)"
    )
    outage_h: Positive = Field(
        default=8.0, description="hours a street is without water by a break"
    )
    outage_person_currency_h: NotNegative = Field(
        default=1.0, description="what an hour without water counts for each person"
    )
    critical_currency: NotNegative = Field(
        default=2000.0, description="what an outage counts for each critical user"
    )
    outage_spread_share: Share = Field(
        default=0.5, description="how far what an outage counts may lie from that (95 %)"
    )
    hidden_run_d: Positive = Field(
        default=180.0, description="days that a leak looked for would run on until it is found"
    )
    surface_near_m: NotNegative = Field(
        default=2.0, description="a pipe so near to a surface of the layer lies under it"
    )
    street_near_m: Positive = Field(
        default=25.0, description="a pipe so near to a street's line lies in that street"
    )
    paying_only: bool = Field(
        default=False, description="list only works that save more than they cost"
    )

    @field_validator("record_dates", mode="before")
    @classmethod
    def _order(cls, said: Any) -> Any:
        days = list(said) if isinstance(said, list | tuple) else [said]
        for at, told in enumerate(days):
            with suppress(ValueError):
                days[at] = date.fromisoformat(told) if isinstance(told, str) else told
        if days and (len(days) != 2 or {type(d) for d in days} != {date} or days[0] >= days[1]):
            raise ValueError("a first and a later last day such as [2001-01-01, 2025-12-31], or []")
        return tuple(days)


def surfaces(given: dict[str, Surface]) -> dict[str, Surface]:
    """Every kind of surface, as set or as usual. Raises `ValueError` for a kind there is not."""
    strange = sorted(set(given) - set(SURFACE_KINDS))
    if strange:
        raise ValueError(f'surfaces of {", ".join(SURFACE_KINDS)}, not "{strange[0]}"')
    return SURFACES | given
