"""The district's settings: frozen, read from `district.toml`, every value with a stated default."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import Field, ValidationError
from pydantic.functional_validators import AfterValidator, field_validator

from district.balance_settings import Allowance as Allowance
from district.balance_settings import Annual as Annual
from district.balance_settings import Background as Background
from district.balance_settings import Costs as Costs
from district.balance_settings import ExceptionalUse as ExceptionalUse
from district.balance_settings import Night as Night
from district.balance_settings import Positive
from district.balance_settings import Pressure as Pressure
from district.errors import Finding, InputError
from district.event_settings import EmptyHours as EmptyHours
from district.event_settings import Events as Events
from district.event_settings import Holiday as Holiday
from district.event_settings import ShutOff as ShutOff
from district.layer_settings import Columns, check_values
from district.layer_settings import Layer as Layer
from district.layer_settings import Part as _Part
from district.refusals import refusal
from district.renew_settings import Renew as Renew
from district.renew_settings import Surface as Surface
from district.renew_settings import surfaces
from district.schema.entry_forms import ENTRY_FORM
from district.schema.inputs import LAYERS, OTHER_LAYERS, RECORDS

FILE = "district.toml"
Tolerance = Annotated[float, Field(ge=1e-6, le=50)]


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


class Locate(_Part):
    """Search for the stretch."""

    hold_share: float = Field(default=0.9, gt=0, lt=1, description="probability the walk must hold")
    connection_snap_m: Positive = Field(
        default=60.0, description="how far a connection may lie from its main"
    )
    nights_count: int = Field(
        default=14, ge=2, le=120, description="nights within which a leak should be shown"
    )
    leak_l_s: float = Field(
        default=1.0, ge=0.01, le=100, description="leak that the expected walk is told for"
    )


def is_place(said: Sequence[Any]) -> bool:
    """Whether these are a longitude and a latitude in degrees."""
    if len(said) != 2 or any(type(v) not in (int, float) for v in said):
        return False
    return bool(abs(said[0]) <= 180 and abs(said[1]) <= 90)


class Survey(_Part):
    """The walk of a crew that searches. All but the depot are assumptions without a source."""

    depot_deg: tuple[float, ...] = Field(
        default=(), description="where the walk begins and ends, [longitude, latitude]"
    )
    shift_h: float = Field(
        default=6.0, ge=0.5, le=16, description="hours on foot in a shift, without rests"
    )
    walk_km_h: float = Field(default=4.0, ge=0.5, le=8, description="pace between what is searched")
    search_km_h: float = Field(
        default=2.0, ge=0.1, le=8, description="pace along it, the listening left out"
    )
    listen_min: float = Field(
        default=3.0, ge=0.1, le=60, description="minutes at each listening point"
    )
    listen_apart_m: float = Field(
        default=30.0,
        ge=2,
        le=300,
        description="metres between listening points at most, on metal and cement",
    )
    listen_apart_plastic_m: float = Field(
        default=15.0, ge=2, le=300, description="the same on plastic and unknown material"
    )

    @field_validator("depot_deg", mode="before")
    @classmethod
    def _place(cls, said: Any) -> Any:
        if isinstance(said, (list, tuple)) and (len(said) == 0 or is_place(said)):
            return tuple(said)
        raise ValueError("longitude and latitude in degrees such as [-1.93, 54.35], or []")


class Isolate(_Part):
    """Whom a closed valve leaves without water. Assumptions without a source: set your own."""

    people_property: Positive = Field(
        default=2.4, description="people in a household whose connection does not tell them"
    )
    people_spread_share: float = Field(
        default=0.4,
        ge=0,
        le=1,
        description="how far their number may lie from that in a street (95 %)",
    )


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
    survey: Survey = Survey()
    isolate: Isolate = Isolate()
    renew: Renew = Renew()
    # Validated even when empty: the usual kinds are filled in there.
    surfaces: dict[str, Surface] = Field(default_factory=dict, validate_default=True)
    shut_off: ShutOff = ShutOff()
    exceptional_use: tuple[ExceptionalUse, ...] = ()
    holidays: tuple[Holiday, ...] = ()
    empty_hours: tuple[EmptyHours, ...] = ()
    country_group: Literal["developed", "developing"] = Field(
        default="developed",
        description="which published target bands apply: developed or developing",
    )

    @field_validator("layers", "records")
    @classmethod
    def _names(cls, parts: dict[str, Layer], info: Any) -> dict[str, Layer]:
        tables = (*LAYERS, *OTHER_LAYERS) if info.field_name == "layers" else (*RECORDS, ENTRY_FORM)
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

    @field_validator("surfaces")
    @classmethod
    def _surfaces(cls, given: dict[str, Surface]) -> dict[str, Surface]:
        return surfaces(given)

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
