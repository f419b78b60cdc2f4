"""What crews and the public told, at odds with the map or with itself."""

from __future__ import annotations

from pathlib import Path

from tests.bad_inputs.breakers import Breaker
from tests.bad_inputs.cases import Case


def _told(file: str, *lines: str) -> Breaker:
    def write(folder: Path) -> None:
        (folder / file).write_text("\n".join(lines) + "\n")

    return write


CASES = (
    Case(
        "survey of an unknown pipe",
        _told("surveys.csv", "date,pipe_id", "2025-03-11,P9"),
        'surveys.csv, row of 2025-03-11, column pipe_id: got "P9", expected a pipe_id of '
        "pipes.geojson: P1, P2, P3, P4, P5 or P6. Correct the value; until then this survey counts "
        "for no pipe.",
    ),
    Case(
        "survey by a method nobody knows",
        _told("surveys.csv", "date,pipe_id,method", "2025-03-11,P3,dowsing"),
        'surveys.csv, row 2, column method: got "dowsing", expected one of listening, '
        "ground_microphone, correlator, walk. Correct it, or say under [records.surveys.values."
        'method] in district.toml what it means, as in "dowsing" = "listening".',
    ),
    Case(
        "survey with a chance above one",
        _told("surveys.csv", "date,pipe_id,detection_share", "2025-03-11,P3,70"),
        "surveys.csv, row 2, column detection_share: got 70, expected a number in share from 0 to "
        "1. Correct the value or leave it empty to use the default.",
    ),
    Case(
        "step test with an unknown valve",
        _told(
            "step_tests.csv",
            "test_id,time,valve_id,flow_l_s",
            "T1,2025-03-12 01:00,,1.5",
            "T1,2025-03-12 01:15,V7,1.1",
        ),
        'step_tests.csv, row of 2025-03-12, column valve_id: got "V7", expected a valve_id of '
        "valves.geojson: V1. Correct the value; until then its section is counted with the next "
        "one.",
    ),
    Case(
        "step that rises",
        _told(
            "step_tests.csv",
            "test_id,time,valve_id,flow_l_s",
            "T1,2025-03-12 01:00,,1.5",
            "T1,2025-03-12 01:15,V1,1.9",
        ),
        "step_tests.csv, test T1, row of 2025-03-12 01:15, column flow_l_s: got 1.9 L/s after 1.5 "
        "L/s, though V1 was shut, expected no more than before, once a section is shut. Check the "
        "flow, the order of times, and that the valve closes.",
    ),
    Case(
        "delay longer than the pipe allows",
        _told(
            "correlations.csv",
            "date,first_id,other_id,delay_ms,length_m,wave_speed_m_s",
            "2025-03-12,V1,MB,240,100,1250",
        ),
        "correlations.csv, row of 2025-03-12, V1 to MB, column delay_ms: got 240 ms, expected at "
        "most 80 ms, as sound takes over 100 m at 1\xa0200 m/s. Correct the delay, the length or "
        "the speed; until then it is not counted.",
    ),
    Case(
        "correlation at a hydrant that is not on the map",
        _told("correlations.csv", "date,first_id,other_id,delay_ms", "2025-03-12,V1,H12,4"),
        'correlations.csv, row of 2025-03-12, column other_id: got "H12", expected a valve_id, '
        "meter_id, sensor_id or connection_id of the layers. Correct the value; until then this "
        "correlation is not counted.",
    ),
    Case(
        "report without a place",
        _told("sightings.csv", "time,what", "2025-03-12 08:00,wet ground"),
        "sightings.csv, row of 2025-03-12, column place_id: got nothing in 1 row, expected a "
        "place_id, or longitude_deg and latitude_deg. Say where it was; until then the report "
        "counts for no pipe.",
    ),
    Case(
        "survey of a year to come",
        _told("surveys.csv", "date,pipe_id", "2052-03-11,P3"),
        "surveys.csv, row of 2052-03-11, column date: got 2052-03-11, and the last reading is of "
        "2025-03-13, expected a date no more than a month after it. Correct the year, or add the "
        "readings up to then.",
    ),
)
