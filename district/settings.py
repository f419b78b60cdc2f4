"""The district's settings: frozen, read from `district.toml`, every value with a stated default."""

from __future__ import annotations

import tomllib
from datetime import datetime, time
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import Field, ValidationError
from pydantic.functional_validators import AfterValidator, field_validator, model_validator

from district.errors import Finding, InputError
from district.layer_settings import Columns, check_values
from district.layer_settings import Layer as Layer
from district.layer_settings import Part as _Part
from district.refusals import refusal
from district.schema.inputs import LAYERS, RECORDS

FILE = "district.toml"
_MOST = 1e6  # Beyond this no setting means anything, and squares of figures overflow.
Positive = Annotated[float, Field(ge=1e-6, le=_MOST)]
NotNegative = Annotated[float, Field(ge=0, le=_MOST)]
Exponent = Annotated[float, Field(gt=0, le=5)]
Tolerance = Annotated[float, Field(ge=1e-6, le=50)]
Share = Annotated[float, Field(ge=0, le=1)]


def _timezone(name: str) -> str:
    if name not in available_timezones():
        raise ValueError('a time zone name such as "Europe/London" or "UTC"')
    return name


class Readings(_Part):
    """One kind of reading file: pattern, layout, clock and units."""

    files: str
    layout: Literal["long", "wide"] = "long"
    sheet: str = ""
    """Of a workbook; empty: every visible sheet with times."""
    timezone: str = ""
    """Empty: the district's. Ignored where the times carry their own offset."""
    stamp: Literal["start", "end"] = "end"
    """Which end of its interval a pulse count or rate is stamped with."""
    columns: Columns = Field(default_factory=dict)
    clock_gain_s_d: float = Field(default=0.0, ge=-3600, le=3600)
    clock_set: datetime | None = None  # Local; a device's first reading if not said.

    @field_validator("timezone")
    @classmethod
    def _zone(cls, name: str) -> str:
        return _timezone(name) if name else name


class Night(_Part):
    """The night window, local time."""

    start: time = Field(default=time(2), description="start of the night window")
    end: time = Field(default=time(4), description="end of the night window")
    search_start: time = Field(
        default=time(0), description="the lowest rolling hour is sought from here"
    )
    search_end: time = Field(default=time(6), description="and to here")
    recent_nights: int = Field(
        default=28, ge=1, le=366, description="how many of the last nights the zone figures rest on"
    )

    @model_validator(mode="after")
    def _order(self) -> Night:
        if any(t.tzinfo for t in (self.start, self.end, self.search_start, self.search_end)):
            raise ValueError(
                "times such as 02:00:00 of the district's own clock, without an offset"
            )
        if not self.start < self.end or not self.search_start < self.search_end:
            raise ValueError("a window that ends after it starts, on the same date")
        return self

    def window_h(self) -> float:
        """Length of the window on an ordinary night, hours."""
        return (self.end.hour - self.start.hour) + (self.end.minute - self.start.minute) / 60


class Allowance(_Part):
    """Night use of a use class where it is not measured."""

    l_property_h: NotNegative = Field(
        description="night use where it is not measured, litres per property and hour"
    )
    spread_share: NotNegative = Field(
        default=0.4, description="how far a zone's true mean may lie from it (95 %)"
    )
    # A small zone's night is lumpy.
    burst_l: Positive = Field(default=8.0, description="litres drawn at once")
    l_property_d: NotNegative = Field(default=350.0, description="daily use without a meter")


class Background(_Part):
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
    condition_factor_low: Positive = Field(default=0.7, description="its lower limit")
    condition_factor_high: Positive = Field(default=3.0, description="its upper limit")
    exponent: Exponent = Field(default=1.5, description="how background grows with pressure")


class Pressure(_Part):
    """Pressure where no logger tells it, and the leakage-pressure exponent."""

    assumed_m: Positive = Field(default=40.0, description="zone pressure where no logger tells it")
    assumed_spread_m: NotNegative = Field(
        default=10.0, description="95 % limit of that, either way"
    )
    # Mean of surveyed zones; Thornton, Sturm & Kunkel 2008, table 10.9.
    exponent: Exponent = Field(default=1.15, description="how leakage grows with pressure")
    exponent_low: Exponent = Field(default=0.5, description="its lower limit")
    exponent_high: Exponent = Field(default=1.5, description="its upper limit")


class Annual(_Part):
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


class Costs(_Part):
    """What water costs and what it is sold for."""

    water_currency_m3: NotNegative = Field(
        default=0.8, description="what a cubic metre of water costs"
    )
    sold_currency_m3: NotNegative = Field(default=1.8, description="what it is sold for")


class Events(_Part):
    """The change test."""

    false_alarms_per_year: Positive = Field(
        default=0.5, description="false alarms you accept, by zone or building"
    )
    smallest_l_s: NotNegative = Field(default=0.03, description="smaller changes are not listed")


class Locate(_Part):
    """Search for the stretch."""

    hold_share: float = Field(default=0.9, gt=0, lt=1, description="probability the walk must hold")
    connection_snap_m: Positive = Field(
        default=60.0, description="how far a connection may lie from its main"
    )


class ExceptionalUse(_Part):
    """A known night user without an interval meter."""

    zone_id: str = Field(description="zone of a known night user without an interval meter")
    flow_l_s: NotNegative = Field(description="what it draws at night")
    spread_share: NotNegative = Field(default=0.2, description="95 % limit of it, as a share of it")
    note: str = Field(default="", description="what it is")


class District(_Part):
    """Name, clock, money."""

    name: str = Field(default="District", description="name on the pages")
    timezone: Annotated[str, AfterValidator(_timezone)] = Field(
        default="UTC", description="clock of the readings"
    )
    currency: str = Field(default="EUR", description="money")


class Settings(_Part):
    """All settings of a district."""

    district: District = District()
    layers: dict[str, Layer] = Field(default_factory=dict)
    records: dict[str, Layer] = Field(default_factory=dict)
    readings: tuple[Readings, ...] = ()
    snap_tolerance_m: Tolerance = Field(
        default=0.5,
        description="pipe ends nearer than this are one; devices nearer stand on the pipe",
    )
    night: Night = Night()
    # Validated even when empty: the usual allowances are filled in there.
    allowances: dict[str, Allowance] = Field(default_factory=dict, validate_default=True)
    background: Background = Background()
    pressure: Pressure = Pressure()
    annual: Annual = Annual()
    costs: Costs = Costs()
    events: Events = Events()
    locate: Locate = Locate()
    exceptional_use: tuple[ExceptionalUse, ...] = ()
    country_group: Literal["developed", "developing"] = Field(
        default="developed",
        description="which published target bands apply: developed or developing",
    )

    @field_validator("layers", "records")
    @classmethod
    def _names(cls, parts: dict[str, Layer], info: Any) -> dict[str, Layer]:
        tables = LAYERS if info.field_name == "layers" else RECORDS
        known = {t.name: t for t in tables}
        for name, layer in parts.items():
            if name not in known:
                raise ValueError(f'one of {", ".join(known)}, not "{name}"')
            strange = sorted({*layer.columns, *layer.units} - set(known[name].names()))
            if strange:
                names = ", ".join(known[name].names())
                raise ValueError(f'columns of {name} ({names}), not "{strange[0]}"')
            check_values(known[name], layer.values)
        return parts

    @field_validator("allowances")
    @classmethod
    def _household(cls, given: dict[str, Allowance]) -> dict[str, Allowance]:
        # Defaults from memory: UK Managing Leakage 1994 (1.7 household, 8 small non-household).
        usual = {
            "household": Allowance(l_property_h=1.7),
            "commercial": Allowance(l_property_h=8.0, l_property_d=1200.0),
        }
        return usual | given

    def zone_info(self) -> ZoneInfo:
        """The district's clock."""
        return ZoneInfo(self.district.timezone)


def read_settings(folder: Path) -> Settings:
    """The settings of a district folder; defaults where there is no `district.toml`.

    Raises `InputError` with one finding a defect: unreadable file, broken TOML (with the line),
    unknown or wrong values (with their path in the file).
    """
    path = folder / FILE
    if not folder.is_dir():
        got = "no such folder" if not folder.exists() else "a file"
        expected = "a folder with the district's layers, readings and district.toml"
        raise InputError([Finding("error", str(folder), "", "", got, expected, "Check the path")])
    if not path.exists() and not path.is_symlink():
        return Settings()
    try:
        said = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as reason:
        raise InputError([_not_toml(reason)]) from reason
    try:
        return Settings.model_validate(said)
    except ValidationError as found:
        raise InputError([refusal(e, file=FILE) for e in found.errors()]) from found


def _not_toml(reason: Exception) -> Finding:
    place, got = "", f"text that is not TOML ({reason})"
    mend = "Mend that line; texts need quotation marks"
    if "\\" in got:
        mend = "Write paths with / in place of \\"
    if isinstance(reason, OSError):
        got = f"what cannot be read as a file ({reason.strerror})"
        mend = "Check what it is and who may read it"
    elif isinstance(reason, UnicodeDecodeError):
        place = f"line {reason.object[: reason.start].count(10) + 1}"
        got, mend = "a sign that is not UTF-8", "Save the file as UTF-8"
    expected = "TOML in UTF-8: key = value lines under [section] headings"
    return Finding("error", FILE, place, "", got, expected, mend)
