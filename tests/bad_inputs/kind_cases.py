"""Meters whose kind, plate, works or second value do not fit, and the sentence for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from tests.bad_inputs.breakers import Breaker, both, features, more
from tests.bad_inputs.cases import Case
from tests.bad_inputs.small_folder import feature, read_layer, write_layer

MA, MB, CM1 = 0, 1, 2
"""Positions in the meters layer: electromagnetic inlet, pulse transfer, customer's register."""
_UP_US, _DOWN_US = 135.1997, 135.0706


def _meter(at: int, **columns: Any) -> Breaker:
    return features("meters", lambda found: found[at]["properties"].update(columns))


def _extra(heading: str, rows: Sequence[str], said: str = "") -> Breaker:
    """A third reading file; the zone meters' own file keeps its rows of other meters only."""

    def write(folder: Path) -> None:
        (folder / "readings/extra.csv").write_text("\n".join([heading, *rows]) + "\n")
        more(f'\n[[readings]]\nfiles = "readings/extra.csv"\n{said}')(folder)

    return write


def _without(meter: str) -> Breaker:
    def write(folder: Path) -> None:
        path = folder / "readings/zones.csv"
        rows = [r for r in path.read_text().splitlines() if not r.startswith(f"{meter},")]
        path.write_text("\n".join(rows) + "\n")

    return write


def _rows(meter: str, value: Callable[[int, str], str]) -> Breaker:
    """The zone meter's values written anew, by their number and what stood there."""

    def write(folder: Path) -> None:
        path = folder / "readings/zones.csv"
        rows, n = [], 0
        for row in path.read_text().splitlines():
            device, time, old = row.split(",")
            if device == meter:
                row, n = f"{device},{time},{value(n, old)}", n + 1
            rows.append(row)
        path.write_text("\n".join(rows) + "\n")

    return write


def _user(value: Callable[[int, str], str]) -> Breaker:
    """The customer's register written anew."""

    def write(folder: Path) -> None:
        path = folder / "readings/others.csv"
        head, *rows = path.read_text().splitlines()
        for n, row in enumerate(rows):
            time, old, *rest = row.split(",")
            rows[n] = ",".join([time, value(n, old), *rest])
        path.write_text("\n".join([head, *rows]) + "\n")

    return write


def _works(row: str) -> Breaker:
    def write(folder: Path) -> None:
        with (folder / "works.csv").open("a") as file:
            file.write(row + "\n")

    return write


def _times(step_s: float, count: int) -> list[str]:
    start = datetime(2025, 3, 10)
    return [str(start + timedelta(seconds=step_s * n)) for n in range(count)]


def _wave(n: int) -> float:
    return round(1.9 + 0.4 * math.sin(n / 4), 3)


def _travel(factor: float = 1.0) -> list[str]:
    return [
        f"MA,{t},{factor * (_UP_US + 0.02 * _wave(n)):.4f},{factor * _DOWN_US:.4f}"
        for n, t in enumerate(_times(3600, 73))
    ]


def _check_valve(folder: Path) -> None:
    valve = feature(
        "Point", (7.0035, 47.0), valve_id="V2", kind="check", state="open", operable=True
    )
    write_layer(folder, "valves", [*read_layer(folder, "valves"), valve])


def _register_with_rate(factor: float) -> list[str]:
    total, rows = 5000.0, []
    for n, time in enumerate(_times(3600, 24 * 6)):
        rows.append(f"MA,{time},{total:.3f},{factor * _wave(n):.3f}")
        total += (_wave(n) + _wave(n + 1)) / 2 * 3.6
    return rows


_PATH = {"kind": "transit_time", "path_length_mm": 200, "path_angle_deg": 45, "bore_mm": 100}
CASES: tuple[Case, ...] = (
    Case(
        "rate unit of a pressure",
        _meter(CM1, rate_unit="bar"),
        'meters.geojson, meter CM1, column rate_unit: got "bar", expected one of l/s, l/h, m3/h, '
        "m3/d, Ml/d, gpm, as the unit of a rate beside its readings. Correct the unit.",
    ),
    Case(
        "path without an angle",
        _meter(MA, kind="transit_time", path_length_mm=200, bore_mm=100),
        "meters.geojson, meter MA, column path_angle_deg: got nothing, expected the angle between "
        "sound path and pipe axis in degrees, as path_length_mm is given. Fill it in, or empty "
        "path_length_mm if its readings are flows.",
    ),
    Case(
        "path without a bore, where two pipes meet",
        _meter(MA, kind="transit_time", path_length_mm=200, path_angle_deg=45),
        "meters.geojson, meter MA, column bore_mm: got nothing, expected the inside diameter at "
        "the meter in mm, as path_length_mm is given. Fill it in, or empty path_length_mm if its "
        "readings are flows.",
    ),
    Case(
        "path angle of a right angle",
        _meter(MA, **{**_PATH, "path_angle_deg": 90}),
        "meters.geojson, meter MA, column path_angle_deg: got 90, expected a number in ° from "
        "10 to 80. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "class that does not exist",
        _meter(CM1, accuracy_class=3),
        "meters.geojson, meter CM1, column accuracy_class: got 3, expected a whole number from 1 "
        "to 2. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "ratio that is no number",
        _meter(CM1, ratio_r="R100"),
        'meters.geojson, meter CM1, column ratio_r: got "R100", expected a number from 10 to '
        "2000. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "travel times without a path",
        both(
            _meter(MA, kind="transit_time"),
            _without("MA"),
            _extra("device_id,time,up_us,down_us", _travel()),
        ),
        "meters.geojson, meter MA, column path_length_mm: got nothing, expected the length of the "
        "sound path in mm, as its readings are travel times. Fill it in, with path_angle_deg and "
        "bore_mm.",
    ),
    Case(
        "travel times of another unit than said",
        both(
            _meter(MA, **_PATH),
            _without("MA"),
            _extra("device_id,time,up_us,down_us", _travel(factor=1.25)),
        ),
        "readings/extra.csv, meter MA: got 73 readings of travel times by which sound would run "
        "at 1\xa0180 m/s, expected 1400 to 1560 m/s, as in water. Check path_length_mm, the unit "
        "of the times and the air in the pipe; they are left out.",
    ),
    Case(
        "only one travel time",
        _extra("device_id,time,up_us", [r.rpartition(",")[0] for r in _travel()]),
        "readings/extra.csv, column down_us: got no such column (the file has device_id, time, "
        "up_us), expected a number in µs: travel time of sound with the flow, instead of a value. "
        "Add the column, or name yours in columns under [[readings]] in district.toml.",
    ),
    Case(
        "travel time of nothing",
        both(
            _meter(MA, **_PATH),
            _without("MA"),
            _extra(
                "device_id,time,T1,T2",
                [*_travel(), "MA,2025-03-20 00:00,0,135.1"],
                'columns = { up_us = "T1", down_us = "T2" }\n',
            ),
        ),
        "readings/extra.csv, row 75, column T1: got 0, expected a travel time above zero. Correct "
        "the value or leave it empty; the reading is left out.",
    ),
    Case(
        "rate beside a rate",
        both(
            _without("MA"),
            _extra("device_id,time,value,rate", _register_with_rate(1.0)),
        ),
        "meters.geojson, meter MA, column kind: got electromagnetic, but a second value beside "
        "each reading, expected transit_time for travel times, or register for a total with a "
        "rate beside it. Correct the kind if it is one of the two; the second value is not used.",
    ),
    Case(
        "rate in another unit than its register",
        both(
            _meter(MA, kind="register", reading_unit="m3"),
            _without("MA"),
            _extra("device_id,time,value,rate", _register_with_rate(3.6)),
        ),
        "readings/extra.csv, meter MA: got a rate that makes 590 m³ a day where the register "
        "makes 160 m³, all along, expected the same within 13 m³. Check rate_unit and "
        "reading_unit, then the register; its volumes are used.",
    ),
    Case(
        "register that is a rate",
        _meter(MA, kind="register", reading_unit="m3"),
        "readings/zones.csv, meter MA: got values that fall 38 times and rise 32 times, expected "
        "a register, which only rises. Set its kind to electromagnetic or transit_time if they "
        "are flows, to pulse if they are counts, or its role to transfer if water runs both ways.",
    ),
    Case(
        "rate that is a register",
        _rows("MA", lambda n, _: f"{1000 + 2 * n}"),
        "readings/zones.csv, meter MA: got values that only ever rise, expected a flow, which "
        "rises and falls. Set its kind to register if they are totals, and reading_unit to their "
        "unit.",
    ),
    Case(
        "pulses with fractions",
        _rows("MB", lambda n, old: f"{int(old) + 0.25}" if n else old),
        "readings/zones.csv, meter MB: got pulses with fractions, such as 171.25, expected whole "
        "pulses. Set reading_unit to what the values are in (say m3 or l), or correct its kind.",
    ),
    Case(
        "pulses that are a running total",
        _rows("MB", lambda n, _: f"{1000 + 150 * n}"),
        "readings/zones.csv, meter MB: got counts that only ever rise, expected the pulses of "
        "each interval. Set its kind to register with reading_unit = pulses if they are a running "
        "total.",
    ),
    Case(
        "register in pulses without their volume",
        _meter(CM1, reading_unit="pulses"),
        "meters.geojson, meter CM1, column litres_per_pulse: got nothing, expected the volume of "
        "one pulse in L, as it is read in pulses. Fill it in; it stands on the meter or its pulse "
        "unit.",
    ),
    Case(
        "more than the plate allows",
        both(
            _meter(MA, q3_m3_h=10),
            _rows("MA", lambda n, old: "5.5" if n in (30, 31, 32) else old),
        ),
        "readings/zones.csv, meter MA: got 3 readings beyond what can pass, up to 20 m³/h, "
        "expected at most 12.5 m³/h, its overload flow Q4 (1.25 times q3_m3_h). Check them "
        "against the meter; they are left out.",
    ),
    Case(
        "always more than the bore allows",
        _meter(MA, bore_mm=10),
        "readings/zones.csv, meter MA: got 100 % of its readings beyond what can pass, up to "
        "8.5 m³/h, expected at most 2.83 m³/h, 10 m/s through its bore of 10 mm. Check "
        "reading_unit, litres_per_pulse and bore_mm of the meter; the readings are used as they "
        "are.",
    ),
    Case(
        "water that runs back through an inlet",
        _rows("MA", lambda n, old: f"-{old}" if n in (30, 31) else old),
        "readings/zones.csv, meter MA: got 2 readings of flow against the meter's direction, "
        "expected none, as its role is neither transfer nor outlet. Set its role to transfer if "
        "water may run back; they are left out.",
    ),
    Case(
        "water that runs back through a check valve",
        both(_check_valve, _rows("MB", lambda n, old: f"-{old}" if n == 30 else old)),
        "readings/zones.csv, meter MB: got 1 reading of flow against the meter's direction, "
        "expected none, as check valve V2 stands on its pipe. Check the valve, which may leak, "
        "and the meter; it is left out.",
    ),
    Case(
        "register that jumps",
        _user(lambda n, old: f"{float(old) + 800 * (n > 40):.3f}"),
        "readings/others.csv, meter CM1: got a register that jumped from 1202.26 to 2002.288 by "
        "2025-03-11 17:00 and went on from there, expected a rise like the others, or a "
        "meter_change in the works. Record the change if the meter is new; what passed between "
        "the two is left out.",
    ),
    Case(
        "register changed as recorded",
        both(
            _works("2025-03-11,,meter_change,CM1,"),
            _user(lambda n, old: f"{float(old) - 1200 * (n > 40):.3f}"),
        ),
        "readings/others.csv, meter CM1: got a register that went from 1202.26 to 2.288 by "
        "2025-03-11 17:00, when works record a change of meter, expected one register throughout. "
        "Nothing need be done; what passed between the two is left out.",
    ),
    Case(
        "water in an empty house",
        _works("2025-03-10 12:00,2025-03-12 12:00,empty,CM1,"),
        "readings/others.csv, meter CM1: got 2.38\xa0m³ (2.34 to 2.43) in 2 days while the "
        "premises were empty, 2025-03-10 to 2025-03-12: 0.828\xa0L/min (0.811 to 0.845), "
        "expected nothing, as nobody was there. Look behind this meter for a leak, an overflowing "
        "cistern or a tap left open, before the next time they stand empty.",
    ),
    Case(
        "empty house nobody read",
        _works("2025-04-10 12:00,2025-04-12 12:00,empty,CM1,"),
        "readings/others.csv, meter CM1: got no two readings around 2025-04-10 to 2025-04-12, when "
        "the premises were empty, expected one at the start and one at the end of that time. Read "
        "the meter when people leave and when they come back.",
    ),
    Case(
        "clock that gains",
        both(
            _without("MA"),
            _extra(
                "device_id,time,value",
                [f"MA,{t},{_wave(n)}" for n, t in enumerate(_times(901, 280))],
            ),
        ),
        "readings/extra.csv, meter MA: got a reading every 901 s, so that the seconds walk, "
        "expected one every 900 s. If its clock is fast, set clock_gain_s_d = 96 under "
        "[[readings]]; if it only waits longer, nothing need be done.",
    ),
    Case(
        "clock that gains hours a day",
        more('\n[[readings]]\nfiles = "readings/zones.csv"\nclock_gain_s_d = 7200\n'),
        "district.toml, readings.clock_gain_s_d, entry 3: got 7200, expected at most 3\u00a0600. "
        "Correct the value.",
    ),
    Case(
        "clock set at no time",
        more('\n[[readings]]\nfiles = "readings/zones.csv"\nclock_set = "in spring"\n'),
        'district.toml, readings.clock_set, entry 3: got "in spring", expected a local time as '
        "YYYY-MM-DD HH:MM. Correct the value.",
    ),
)
