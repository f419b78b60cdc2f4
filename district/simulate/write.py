"""Write a simulated district as a folder like any user's, and its truth beside."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from shapely.geometry import mapping
from shapely.geometry.polygon import orient

from district.files import whole_folder, write_text
from district.schema.columns import Table
from district.schema.inputs import LAYERS, SURFACES, WORKS
from district.simulate.scenario import NAME, TIMEZONE, Scenario
from district.simulate.simulated import Simulated, simulate
from district.simulate.story import WORKS as STORY_WORKS
from district.simulate.truths import truth_nights_table, truth_table

_SETTINGS = f"""\
# Settings of the sample district. Every key has a default; see README, section Settings.

[district]
name = "{NAME}"
timezone = "{TIMEZONE.key}"
currency = "GBP"

[layers]
pipes = {{ file = "layers/pipes.geojson" }}
valves = {{ file = "layers/valves.geojson" }}
meters = {{ file = "layers/meters.geojson" }}
zones = {{ file = "layers/zones.geojson" }}
connections = {{ file = "layers/connections.geojson" }}
sensors = {{ file = "layers/sensors.geojson" }}
sources = {{ file = "layers/sources.geojson" }}
surfaces = {{ file = "layers/surfaces.geojson" }}

[records]
works = {{ file = "records/works.csv" }}
breaks = {{ file = "records/breaks.csv" }}
surveys = {{ file = "records/surveys.csv" }}
step_tests = {{ file = "records/step_tests.csv" }}
correlations = {{ file = "records/correlations.csv" }}
sightings = {{ file = "records/sightings.csv" }}

[[readings]]                                  # zone meters, a quarter of an hour, UTC
files = "readings/zone_meters_*.parquet"
layout = "long"
timezone = "UTC"
stamp = "end"

[[readings]]                                  # building registers, hourly, local time
files = "readings/buildings_*.csv"
layout = "wide"

[[readings]]                                  # customers, read on foot each quarter
files = "readings/customers_*.csv"
layout = "long"

[[readings]]                                  # pressure loggers, UTC
files = "readings/pressure_*.parquet"
layout = "long"
timezone = "UTC"

[[readings]]                                  # noise loggers, once a night, UTC
files = "readings/noise_*.parquet"
layout = "long"
timezone = "UTC"

[[readings]]                                  # wet floors, cables, floats, local time
files = "readings/alarms_*.csv"
layout = "long"

[renew]                                       # a year's money for mains, and the record kept
budget_currency = 150000
record_dates = [2001-01-01, 2025-12-31]

[[holidays]]
first = 2025-01-01
last = 2025-01-12
name = "Christmas vacation"

[[holidays]]
first = 2025-03-29
last = 2025-04-27
name = "Easter vacation"

[[holidays]]
first = 2025-06-21
last = 2025-09-28
name = "long vacation"

[[holidays]]
first = 2025-12-13
last = 2025-12-31
name = "Christmas vacation"

[[empty_hours]]                               # locked by night, nobody inside
places = ["Hawthorn Theatre", "Sundial School", "Lapwing School", "Curlew Music Rooms",
    "Quern House", "Ashlar Offices", "Chapter School", "Mullion House", "Sedge Common Room"]
start = 23:30:00
end = 05:30:00

[allowances.farm]                             # troughs fill at night
l_property_h = 15.0
spread_share = 0.5
burst_l = 16.0
l_property_d = 3000.0

[allowances.campus]                           # only where a building's own meter is silent
l_property_h = 80.0
spread_share = 0.8
burst_l = 12.0
l_property_d = 4500.0
"""


def make_district(folder: Path, *, seed: int = 7, scenario: Scenario | None = None) -> None:
    """Write the simulated district into `folder`: settings, layers, records, readings, truth.

    The same seed and scenario give the same bytes on one machine. Other files in the folder
    stay. Raises `OutputError` if the folder cannot be written.
    """
    made = simulate(scenario or Scenario(), seed=seed)
    with whole_folder(folder) as draft:
        write_text(draft / "district.toml", _SETTINGS)
        for table, frame in layers_of(made, seed=seed).items():
            _write_layer(draft / "layers" / f"{table}.geojson", frame)
        _write_csv(draft / "records" / "works.csv", works_table(made))
        _write_csv(draft / "records" / "breaks.csv", made.breaks)
        for name in ("surveys", "step_tests", "correlations", "sightings"):
            _write_csv(draft / "records" / f"{name}.csv", getattr(made, name))
        _write_readings(draft / "readings", made)
        _write_csv(draft / "truth.csv", truth_table(made))
        _write_csv(draft / "truth_nights.csv", truth_nights_table(made))


def layers_of(made: Simulated, *, seed: int) -> dict[str, gpd.GeoDataFrame]:
    """The district's layers as its GIS holds them, by table name: schema columns, WGS 84."""
    frames: dict[str, gpd.GeoDataFrame] = {
        "pipes": _as_recorded(made.layout.pipes, np.random.default_rng([seed, 100])),
        "valves": made.valves(),
        "meters": made.meters(),
        "zones": made.layout.zones,
        "connections": made.customers.connections,
        "sensors": made.sensors(),
        "sources": made.devices.sources,
        "surfaces": made.layout.surfaces,
    }
    return {t.name: _declared(t, frames[t.name]) for t in (*LAYERS, SURFACES)}


def works_table(made: Simulated) -> pd.DataFrame:
    """Works that began within the record (table `inputs.WORKS`), local time."""
    leaking = made.leaks["pipe_id"]
    rows = [
        (w.start, w.end, w.kind, w.place_id, w.note)
        for w in STORY_WORKS
        if made.clock.local[0] <= pd.Timestamp(w.start) <= made.clock.local[-1]
    ]
    frame = pd.DataFrame(rows, columns=list(WORKS.names()))
    named = {f"pipe of {seed}": pipe for seed, pipe in leaking.items()}
    served = made.customers.connections.dropna(subset=["building_id", "meter_id"])
    metered = zip(served["building_id"], served["meter_id"], strict=True)
    named |= {f"meter of {building}": meter for building, meter in metered}
    frame["place_id"] = frame["place_id"].replace(named)
    return frame


def _as_recorded(pipes: gpd.GeoDataFrame, rng: np.random.Generator) -> gpd.GeoDataFrame:
    """The pipes as drawn in the GIS: here and there nobody wrote down the year or the lining."""
    recorded = pipes.copy()
    for column, share in (("installed_year", 0.03), ("roughness", 0.015), ("length_m", 0.04)):
        blank = rng.random(len(recorded)) < share
        recorded[column] = recorded[column].astype(float).mask(blank)
    recorded["material"] = recorded["material"].mask(rng.random(len(recorded)) < 0.008)
    return recorded


def _declared(table: Table, frame: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    present = [name for name in table.names() if name in frame.columns]
    return gpd.GeoDataFrame(frame[present], geometry="geometry", crs=frame.crs).to_crs("EPSG:4326")


def _write_layer(path: Path, frame: gpd.GeoDataFrame) -> None:
    """GeoJSON (RFC 7946), one feature a line, 8 decimals (a millimetre)."""
    names = [c for c in frame.columns if c != "geometry"]
    rounded = shapely.transform(frame.geometry.to_numpy(), lambda xy: np.round(xy, 8))
    lines = []
    for values, shape in zip(frame[names].itertuples(index=False), rounded, strict=True):
        said = {n: _plain(v) for n, v in zip(names, values, strict=True)}
        feature = {
            "type": "Feature",
            "properties": said,
            "geometry": mapping(orient(shape) if shape.geom_type == "Polygon" else shape),
        }
        lines.append(json.dumps(feature, ensure_ascii=False, allow_nan=False))
    body = ",\n".join(lines)
    write_text(path, f'{{"type": "FeatureCollection", "features": [\n{body}\n]}}\n')


def _plain(value: Any) -> Any:
    if value is None or value is pd.NA or (isinstance(value, float) and np.isnan(value)):
        return None
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def _write_csv(path: Path, frame: pd.DataFrame) -> None:
    write_text(path, frame.to_csv(index=False, lineterminator="\n"))


def _write_readings(folder: Path, made: Simulated) -> None:
    folder.mkdir(parents=True)
    year = made.clock.local[0].year
    local = made.zone_readings["time"].dt.tz_convert(TIMEZONE)
    # A reading stamped at midnight belongs to the month whose last interval it ends.
    month = (local - pd.Timedelta(minutes=1)).clip(lower=local.min()).dt.strftime("%Y-%m")
    for name, part in made.zone_readings.groupby(month):
        _write_parquet(folder / f"zone_meters_{name}.parquet", part)
    _write_parquet(folder / f"pressure_{year}.parquet", made.pressure_readings)
    _write_parquet(folder / f"noise_{year}.parquet", made.acoustic_readings)
    wide = made.building_readings
    clock = wide.index.tz_convert(TIMEZONE).strftime("%Y-%m-%d %H:%M")
    table = pd.DataFrame({"time": clock}, index=wide.index)
    for meter in made.customers.meters.itertuples():
        if meter.role == "building":
            digits = 3 if meter.resolution_l < 10 else 2
            shown = wide[meter.meter_id]
            text = shown.map(f"{{:.{digits}f}}".format).where(shown.notna(), "")
            table[meter.meter_id] = text
    _write_csv(folder / f"buildings_{year}.csv", table)
    reads = made.customer_reads.assign(
        time=made.customer_reads["time"].dt.strftime("%Y-%m-%d"),
        value=made.customer_reads["value"].astype(int),
    )
    _write_csv(folder / f"customers_{year}.csv", reads)
    beats = made.alarm_readings
    beats = beats.assign(time=beats["time"].dt.strftime("%Y-%m-%d %H:%M"))
    _write_csv(folder / f"alarms_{year}.csv", beats)


def _write_parquet(path: Path, frame: pd.DataFrame) -> None:
    tidy = frame.reset_index(drop=True)
    tidy["time"] = tidy["time"].dt.as_unit("ms")
    tidy.to_parquet(path, index=False, compression="zstd")
