"""Strategies for odd settings and odd reading files, as text, bytes, workbooks and Parquet."""

from __future__ import annotations

import datetime
import io
import json
import re
from decimal import Decimal
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq
from hypothesis import strategies as st
from openpyxl import Workbook

from district.settings import Readings as Kind
from tests.bad_inputs.small_folder import SETTINGS

_VALUES = [
    '""', "0", "-1", "1e400", "nan", "inf", "true", "[]", "{}", '"\\u0000"', '"x"', '"2"', "[[1]]",
    '"02:00Z"', '"02:00"', "02:00:00", "25:00:00", "1000-01-01", "9999-12-31T23:59:59Z", "9" * 40,
    '"**"', '"**x"', '"/"', '"/*"', '"../*"', '".."', '"["', '"readings/zones.csv"', '"*"', '"m"',
    '"pipes.geojson"', '"district.toml"', '"works.csv"', '"wide"', '"Europe/London"', '"A"',
    "86400", '{pipe_id = "pipe_id"}', '{time = ""}', '{MA = "time"}', '{diameter_mm = "in"}',
    f'"{"y" * 300}"',
]  # fmt: skip
_PATHS = [
    "snap_tolerance_m", "country_group", "district", "district.name", "district.timezone",
    "layers", "layers.pipes", "layers.pipes.file", "layers.pipes.layer", "layers.pipes.columns",
    "layers.pipes.units", "layers.zones.file", "records.works.file", "records.breaks.columns",
    "readings", "night", "night.start", "night.end", "night.search_start", "night.search_end",
    "night.recent_nights", "allowances", "allowances.household.l_property_h", "allowances.x",
    "background.exponent", "background.condition_factor", "pressure.assumed_m", "pressure.exponent",
    "pressure.form", "pressure.fit", "pressure.leakage_number", "pressure.standard_m",
    "annual.unauthorised_share", "costs.water_currency_m3", "events.false_alarms_per_year",
    "events.smallest_l_s", "locate.hold_share", "locate.connection_snap_m", "exceptional_use",
    "locate.nights_count", "locate.leak_l_s",
    "'self'", "'__class__'", "'model_config'", "'a.b'",
]  # fmt: skip
_KEYS = ["files", "layout", "timezone", "stamp", "columns", "sheet", "unknown"]
value = st.sampled_from(_VALUES) | st.floats().map(str) | st.text(max_size=8).map(json.dumps)
_line = st.tuples(st.sampled_from(_PATHS), value).map(" = ".join)
_section = st.dictionaries(st.sampled_from(_KEYS), value, max_size=4).map(
    lambda given: "\n".join(["[[readings]]", *(f"{k} = {v}" for k, v in given.items())])
)
_structured = st.tuples(st.lists(_line, max_size=3), st.lists(_section, max_size=2)).map(
    lambda parts: "\n".join([*parts[0], *parts[1]])
)


@st.composite
def cut_and_changed(draw: st.DrawFn, text: str) -> str:
    """The text with a stretch taken out and something odd put in."""
    start = draw(st.integers(0, len(text)))
    end = draw(st.integers(start, min(len(text), start + 60)))
    return text[:start] + draw(st.text(max_size=6) | value) + text[end:]


@st.composite
def damaged(draw: st.DrawFn, whole: bytes) -> bytes:
    """The bytes cut short, or a stretch of them written over."""
    start = draw(st.integers(0, len(whole)))
    if draw(st.booleans()):
        return whole[:start]
    put = draw(st.binary(max_size=40))
    return whole[:start] + put + whole[start + len(put) :]


settings_texts = _structured | cut_and_changed(SETTINGS) | st.text(max_size=40)

_CELLS = [
    "", " ", "MA", "MB", "CM1", "WF1", "PL1", "1.5", "1,5", "-3", "1e308", "-1e308", "1e14", "nan",
    "inf", "∞", "wet", "=1+1", '"', "'", "\x00", "2025-03-10 00:00", "2025-03-10 24:00",
    "2025-03-30 02:30", "2025-10-26 02:30", "10.03.2025 00:15", "1000-01-01", "9999-12-31 23:59",
    "2025-03-10T01:00+99:99", "2025-03-10T01:00:00.5Z", "03/04/2025", "12:00 AM", "24:00", "l/s",
    "m3", "Total", "1.234,5", "1 234", "\u00a05", "a\nb", "-", "#REF!",
]  # fmt: skip
_IDS = ["MA", "MB", "CM1", "PL1", "WF1"]
_cell = st.sampled_from(_CELLS) | st.text(max_size=6)
_moment = st.integers(0, 400).map(
    lambda quarters: (
        f"2025-03-{10 + quarters // 96:02d} {quarters % 96 // 4:02d}:{quarters % 4 * 15:02d}"
    )
)
_amount = st.floats(-1e6, 1e6).map(str) | st.sampled_from(["0", "1.5", "1e14", "-1e14"])
rows = st.one_of(
    st.tuples(st.sampled_from(_IDS), _moment, _amount).map(list),
    st.lists(_cell, max_size=5),
)
_headings = st.sampled_from(
    [
        "device_id,time,value", "time,MA,MB", "time,value", "device_id;time;value", ",,", "time",
        "", "device_id,time,value,value", "time,MA,MA,PL1,", "device_id,date,time,value",
        "time,MA [l/s],MB (pulses)", "Device_ID,Time,Value [m3/h]", "Unnamed: 0,time,MA.1",
    ]
)  # fmt: skip
_ABOVE = ["", "Logger 12", "Serial;;", "# exported 2025-04-01", "a,b,c,d", "\x00", "sep=;"]
_UNITS = [None, ",,m3", ",l/s,pulses", "-;-;m³", "[h],[l/s]"]
_ENCODINGS = ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1"]


@st.composite
def texts(draw: st.DrawFn) -> bytes:
    """A CSV of some dialect: lines above it, a row of units, any encoding, or two."""
    head = draw(_headings)
    separator = ";" if ";" in head else draw(st.sampled_from([",", ";", "\t", "|"]))
    lines = draw(st.lists(st.sampled_from(_ABOVE), max_size=2))
    lines += [head, *filter(None, [draw(st.sampled_from(_UNITS))])]
    lines += [separator.join(r) for r in draw(st.lists(rows, max_size=30))]
    text = draw(st.sampled_from(["\n", "\r\n", "\r"])).join(lines)
    cut = draw(st.integers(0, len(text)))
    first, second = (draw(st.sampled_from(_ENCODINGS)) for _ in range(2))
    if draw(st.booleans()):
        return _encoded(text, first)
    return _encoded(text[:cut], first) + _encoded(text[cut:], second)


def _encoded(text: str, encoding: str) -> bytes:
    lone = "surrogatepass" if encoding.startswith("utf") else "replace"
    return text.encode(encoding, lone)


_TIMES = st.datetimes(datetime.datetime(1900, 1, 1), datetime.datetime(2200, 1, 1))
_NO_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_book_cell = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**9), 10**9),
    st.floats(allow_nan=False, allow_infinity=False),
    _TIMES,
    st.times(),
    st.dates(datetime.date(1900, 3, 1), datetime.date(2200, 1, 1)),
    st.timedeltas(datetime.timedelta(0), datetime.timedelta(days=400)),
    _cell.map(lambda text: _NO_XML.sub("", text)),
)
_book_row = st.one_of(
    st.tuples(st.sampled_from(_IDS), _TIMES, st.floats(-1e6, 1e6)).map(list),
    st.lists(_book_cell, max_size=5),
)


@st.composite
def books(draw: st.DrawFn) -> bytes:
    """A workbook of one or two sheets, now and then with merged cells."""
    book = Workbook()
    for n in range(draw(st.integers(1, 2))):
        sheet = book.active if n == 0 else book.create_sheet(draw(st.sampled_from(["MA", "Notes"])))
        sheet.append(draw(_headings).split(","))
        for row in draw(st.lists(_book_row, max_size=12)):
            sheet.append(row)
        if draw(st.integers(0, 5)) == 0:
            sheet.merge_cells("A1:B3")
    kept = io.BytesIO()
    book.save(kept)
    return kept.getvalue()


def _array(draw: st.DrawFn, size: int) -> Any:
    def several(of: st.SearchStrategy[Any]) -> list[Any]:
        return draw(st.lists(of | st.none(), min_size=size, max_size=size))

    kind = draw(st.integers(0, 9))
    if kind == 0:
        return pa.array(several(st.floats()), pa.float64())
    if kind == 1:
        return pa.array(several(st.integers(-(2**62), 2**62)), pa.int64())
    if kind == 2:
        return pa.array(several(_cell.filter(lambda t: t.isprintable())), pa.string())
    if kind == 3:
        unit = draw(st.sampled_from(["s", "us", "ns"]))
        zone = draw(st.sampled_from([None, "UTC", "Europe/Zurich", "+05:30"]))
        return pa.array(several(_TIMES), pa.timestamp(unit, zone))
    if kind == 4:
        return pa.array(several(st.booleans()), pa.bool_())
    if kind == 5:
        return pa.array(several(st.binary(max_size=4)), pa.binary())
    if kind == 6:
        return pa.array(several(st.lists(st.floats(), max_size=2)), pa.list_(pa.float64()))
    if kind == 7:
        return pa.array(several(st.dates(datetime.date(1900, 1, 1))), pa.date32())
    if kind == 8:
        amounts = st.decimals(-1000, 1000, places=2, allow_nan=False, allow_infinity=False)
        return pa.array(several(amounts.map(Decimal)), pa.decimal128(12, 2))
    return pa.array(several(st.sampled_from(_IDS)), pa.string()).dictionary_encode()


@st.composite
def parquets(draw: st.DrawFn) -> bytes:
    """A Parquet file of the usual columns, each of any type."""
    names = draw(st.sampled_from([h.split(",") for h in ("device_id,time,value", "time,MA,PL1")]))
    size = draw(st.integers(0, 8))
    made = pa.table({name: _array(draw, size) for name in names})
    kept = io.BytesIO()
    pq.write_table(made, kept)
    return kept.getvalue()


kinds = st.builds(
    Kind,
    files=st.just("readings/*"),
    layout=st.sampled_from(["long", "wide"]),
    stamp=st.sampled_from(["start", "end"]),
    timezone=st.sampled_from(["", "UTC", "Australia/Lord_Howe"]),
    columns=st.sampled_from([{}, {}, {}, {"time": "date"}, {"value": "MA"}, {"MA": "value"}]),
)
"""How the settings say the file is laid out, rightly or not."""
