"""The district's settings: frozen, read from `district.toml`, every value with a stated default."""

from __future__ import annotations

import tomllib
from datetime import time
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from district.errors import Finding, InputError
from district.schema.inputs import LAYERS, RECORDS
from district.units import KNOWN_UNITS, factor, suffix_of

FILE = "district.toml"
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1)]


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


def _quantity(column: str) -> str:
    suffix = suffix_of(column)
    return {"mm": "length", "m": "length", "km": "length"}.get(suffix, "")


class Layer(_Part):
    """Where a layer or record file is, and what the user's columns and units are called."""

    file: str
    layer: str = ""
    columns: dict[str, str] = {}
    units: dict[str, str] = {}

    @field_validator("units")
    @classmethod
    def _known(cls, units: dict[str, str]) -> dict[str, str]:
        for column, unit in units.items():
            quantity = _quantity(column)
            if not quantity:
                raise ValueError(f"columns with a length unit, not {column}")
            try:
                factor(unit, "m", quantity=quantity)
            except ValueError:
                accepted = ", ".join(KNOWN_UNITS[quantity])
                raise ValueError(f"one of {accepted} as unit of {column}") from None
        return units


class Readings(_Part):
    """One kind of reading file: pattern, layout, clock and units."""

    files: str
    layout: Literal["long", "wide"] = "long"
    timezone: str = ""
    """Empty: the district's. Ignored where the times carry their own offset."""
    stamp: Literal["start", "end"] = "end"
    """Which end of its interval a pulse count or rate is stamped with."""
    columns: dict[str, str] = {}

    @field_validator("timezone")
    @classmethod
    def _zone(cls, name: str) -> str:
        return _timezone(name) if name else name


class Night(_Part):
    """The night window, local time."""

    start: time = time(2)
    end: time = time(4)
    search_start: time = time(0)
    """The lowest rolling hour is sought from here ..."""
    search_end: time = time(6)
    """... to here."""
    recent_nights: Annotated[int, Field(ge=1, le=366)] = 28
    """How many of the last nights the zone figures rest on."""

    @model_validator(mode="after")
    def _order(self) -> Night:
        if not self.start < self.end or not self.search_start < self.search_end:
            raise ValueError("a window that ends after it starts, on the same date")
        return self

    def window_h(self) -> float:
        """Length of the window on an ordinary night, hours."""
        return (self.end.hour - self.start.hour) + (self.end.minute - self.start.minute) / 60


class Allowance(_Part):
    """Night use of a use class where it is not measured."""

    l_property_h: NotNegative
    spread_share: NotNegative = 0.4
    """95 % limit of the zone's true mean, as a share of the allowance."""
    burst_l: Positive = 8.0
    """Typical volume drawn at once: a small zone's night is lumpy."""
    l_property_d: NotNegative = 350.0
    """Whole-day use where there is no meter at all."""


class Background(_Part):
    """Background leakage at 50 m, by component.

    Source of the defaults: Lambert et al. 1999, J Water SRT - Aqua 48(6) (from memory).
    """

    mains_l_km_h: NotNegative = 20.0
    connection_l_connection_h: NotNegative = 1.25
    private_l_km_h: NotNegative = 33.0
    condition_factor: Positive = 1.5
    condition_factor_low: Positive = 0.7
    condition_factor_high: Positive = 3.0
    exponent: Positive = 1.5


class Pressure(_Part):
    """Pressure where no logger tells it, and the leakage-pressure exponent."""

    assumed_m: Positive = 40.0
    assumed_spread_m: NotNegative = 10.0
    exponent: Positive = 1.15
    """Mean of surveyed zones; Thornton, Sturm & Kunkel 2008, table 10.9."""
    exponent_low: Positive = 0.5
    exponent_high: Positive = 1.5


class Annual(_Part):
    """Parts of the annual balance that are assumed, not measured (shares of system input)."""

    unbilled_unmetered_share: Share = 0.005
    unauthorised_share: Share = 0.0025
    assumed_spread_share: NotNegative = 0.5
    customer_under_registration_share: Share = 0.02
    """Common practice, no source: mid-aged mechanical meters read a little low."""


class Costs(_Part):
    """What water costs and what it is sold for."""

    water_currency_m3: NotNegative = 0.8
    sold_currency_m3: NotNegative = 1.8


class Events(_Part):
    """The change test."""

    false_alarms_per_year: Positive = 0.5
    """By zone or building, at the stated test level."""
    smallest_l_s: NotNegative = 0.03
    """Changes smaller than this are not worth a row."""


class Locate(_Part):
    """Search for the stretch."""

    hold_share: Annotated[float, Field(gt=0, lt=1)] = 0.9
    connection_snap_m: Positive = 60.0


class ExceptionalUse(_Part):
    """A known night user without an interval meter."""

    zone_id: str
    flow_l_s: NotNegative
    spread_share: NotNegative = 0.2
    note: str = ""


class District(_Part):
    """Name, clock, money."""

    name: str = "District"
    timezone: str = "UTC"
    currency: str = "EUR"

    @field_validator("timezone")
    @classmethod
    def _zone(cls, name: str) -> str:
        return _timezone(name)


class Settings(_Part):
    """All settings of a district."""

    district: District = District()
    layers: dict[str, Layer] = {}
    records: dict[str, Layer] = {}
    readings: tuple[Readings, ...] = ()
    snap_tolerance_m: Positive = 0.5
    night: Night = Night()
    # Validated even when empty: the usual allowances are filled in there.
    allowances: Annotated[dict[str, Allowance], Field(validate_default=True)] = {}
    background: Background = Background()
    pressure: Pressure = Pressure()
    annual: Annual = Annual()
    costs: Costs = Costs()
    events: Events = Events()
    locate: Locate = Locate()
    exceptional_use: tuple[ExceptionalUse, ...] = ()
    country_group: Literal["developed", "developing"] = "developed"

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


def _timezone(name: str) -> str:
    if name not in available_timezones():
        raise ValueError('a time zone name such as "Europe/London" or "UTC"')
    return name


def read_settings(folder: Path) -> Settings:
    """The settings of a district folder; defaults where there is no `district.toml`.

    Raises `InputError` with one finding a defect: unreadable file, broken TOML (with the line),
    unknown or wrong values (with their path in the file).
    """
    path = folder / FILE
    if not folder.is_dir():
        raise InputError(
            [
                Finding(
                    "error",
                    str(folder),
                    got="no such folder" if not folder.exists() else "a file",
                    expected="a folder with the district's layers, readings and district.toml",
                    remedy="Check the path",
                )
            ]
        )
    if not path.exists():
        return Settings()
    try:
        said = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as reason:
        raise InputError(
            [
                Finding(
                    "error",
                    FILE,
                    got=f"text that is not TOML ({reason})",
                    expected="TOML in UTF-8: key = value lines under [section] headings",
                    remedy="Mend that line; texts need quotation marks",
                )
            ]
        ) from reason
    try:
        return Settings(**said)
    except ValidationError as found:
        raise InputError([_finding(e) for e in found.errors()]) from found
    except TypeError as reason:
        raise InputError([Finding("error", FILE, got=str(reason))]) from reason


def _finding(error: Any) -> Finding:
    place = ".".join(str(p) for p in error["loc"])
    got = error["input"]
    shown = f'"{got}"' if isinstance(got, str) else str(got)
    if error["type"] == "extra_forbidden":
        return Finding(
            "error",
            FILE,
            place,
            got="a key that is not known here",
            expected="only keys listed in README, section Settings",
            remedy="Check the spelling, or remove the line",
        )
    message = str(error["msg"]).removeprefix("Value error, ").removeprefix("Input should be ")
    return Finding(
        "error",
        FILE,
        place,
        got=shown if len(shown) <= 80 else shown[:77] + "...",
        expected=message[:1].lower() + message[1:],
        remedy="Correct the value",
    )
