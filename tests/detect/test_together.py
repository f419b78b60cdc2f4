"""Alarms beside flows: who speaks for whom, in which words, and in which order to act."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import time
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from district.detect.alarms import Spell, spells
from district.detect.together import partner, spoken_for, tiers, with_alarms
from district.network import Network

D = pd.Timestamp
Make = Callable[..., pd.DataFrame]
END = time(4)


def spell(start: str, end: str | None = None, **more: Any) -> Spell:
    """An alarm of W1, in building Hall of zone V2."""
    last = D(end or start) + pd.Timedelta(hours=0 if end else 3)
    given = {"kind": "wet_floor", "alarm_h": 3.0, "onsets_count": 1, "open": False, **more}
    return Spell("W1", start=D(start), end=last, flapping=given.pop("flapping", False), **given)


def flow(start: str, end: str | None = None, **more: Any) -> dict[str, Any]:
    row = {
        "place_kind": "building",
        "place_id": "B1",
        "kind": "building_flow",
        "state": "open" if end is None else "ended",
        "start": D(start),
        "start_low": D(start),
        "start_high": D(start),
        "end": pd.NaT if end is None else D(end),
        "reason": "night flow rose",
    }
    return {**row, **more}


def zone(start: str, end: str | None = None, **more: Any) -> dict[str, Any]:
    return flow(start, end, **{"place_kind": "zone", "place_id": "V2", "kind": "leak", **more})


def told(network: Network, flows: list[dict[str, Any]], *found: Spell) -> list[dict[str, Any]]:
    return with_alarms(flows, found, network=network, night_end=END, last_known=D("2025-12-31"))


def paired(one: Spell, *flows: dict[str, Any], building: str = "Hall") -> int | None:
    return partner(one, flows, building=building, cell="V2", meters={"B1": "Hall"}, night_end=END)


@pytest.mark.parametrize(
    ("alarm", "other", "joined"),
    [
        ("2025-03-01", flow("2025-02-20"), True),
        ("2025-03-01", flow("2025-03-20"), True),
        ("2025-03-01", flow("2025-05-20"), False),
        ("2025-09-01", flow("2025-02-20"), True),
        ("2025-09-01", flow("2025-02-20", "2025-03-01"), False),
        ("2025-03-01", flow("2025-02-20", kind="use"), False),
        ("2025-03-01", flow("2025-02-20", place_id="B2"), False),
        ("2025-03-01", zone("2025-03-01"), True),
        ("2025-03-01", zone("2025-03-03"), True),
        ("2025-03-01", zone("2025-03-05"), False),
        ("2025-03-01", zone("2025-03-05", start_low=D("2025-03-02")), True),
        ("2025-03-08", zone("2025-03-01"), True),
        ("2025-03-10", zone("2025-03-01"), False),
        ("2025-03-10", zone("2025-03-01", kind="growing_leak"), True),
        ("2025-06-10", zone("2025-03-01", "2025-04-01", kind="growing_leak"), False),
        ("2025-03-01", zone("2025-03-01", kind="boundary"), False),
        ("2025-03-01", zone("2025-03-01", state="explained"), False),
        ("2025-03-01", zone("2025-03-01", place_id="V1"), False),
    ],
)
def test_who_speaks_for_whom(alarm: str, other: dict[str, Any], joined: bool) -> None:
    assert (paired(spell(f"{alarm} 02:00"), other) is not None) == joined


def test_the_hour_of_the_alarm_decides_the_night_it_can_show_in() -> None:
    # The night of 3 March is read from 02:00 to 04:00: water at 23:00 on the 3rd shows on the 4th.
    assert paired(spell("2025-03-03 03:00"), zone("2025-03-01", start_high=D("2025-02-24"))) == 0
    assert paired(spell("2025-03-03 23:00"), zone("2025-03-01", start_high=D("2025-02-24"))) is None


def test_the_buildings_meter_goes_before_the_zone_and_the_nearest_before_others() -> None:
    near, far = flow("2025-03-01"), flow("2025-02-10")
    assert paired(spell("2025-03-02 01:00"), zone("2025-03-02"), far, near) == 2
    assert paired(spell("2025-03-02 01:00"), zone("2025-03-02"), far, near, building="") == 0


def test_nobody_is_sent_to_the_same_water_twice(network: Network) -> None:
    def acts(rise: dict[str, Any], start: str, **more: Any) -> bool:
        return bool(told(network, [rise], spell(start, "2025-12-31", open=True, **more))[1]["act"])

    known = flow("2025-12-01", act=True)
    assert not acts(known, "2025-12-05")
    assert acts(known, "2025-12-30")  # Fresh: water on a floor does harm by the hour.
    assert acts(flow("2025-12-01", act=False), "2025-12-05")
    assert acts(flow("2025-06-01", "2025-07-01", act=True), "2025-12-05")
    assert not acts(flow("2025-12-01", act=False), "2025-12-05", flapping=True)


def test_both_name_each_other(network: Network) -> None:
    given = [flow("2025-02-20")]
    rise, alarm = told(network, given, spell("2025-03-02 01:00"))
    assert (rise["support"], alarm["support"]) == ("both", "both")
    assert rise["reason"] == (
        "night flow rose; wet-floor sensor W1 of building Hall gave alarm on 2025-03-02 at 01:00"
    )
    assert alarm["reason"] == (
        "water on the floor in building Hall, first on 2025-03-02 at 01:00; the night flow of the "
        "building's meter B1 rose on 2025-02-20"
    )
    assert alarm["cell_id"] == "V2"
    assert given == [flow("2025-02-20")]  # What came in is not written to.


def test_sensors_in_alarm_still_that_a_flow_speaks_for(network: Network) -> None:
    both = told(network, [flow("2025-02-20")], spell("2025-03-02 01:00", open=True))
    assert spoken_for(both) == {"W1"}
    assert spoken_for(told(network, [], spell("2025-03-02 01:00", open=True))) == set()
    assert spoken_for(told(network, [flow("2025-02-20")], spell("2025-03-02 01:00"))) == set()


def test_a_lone_alarm_says_what_speaks_against_it(network: Network) -> None:
    (alarm,) = told(network, [], spell("2025-03-02 01:00"))
    assert alarm["support"] == "alarm"
    assert alarm["reason"].endswith("no lasting rise at a meter of the building within 30 days")
    (fresh,) = told(network, [], spell("2025-12-30 20:00", open=True))
    assert fresh["reason"].endswith("fresh: have somebody look today")
    (lift,) = told(network, [], spell("2025-12-30 20:00", kind="chamber_float", open=True))
    assert lift["reason"].endswith("ground water and rain lift a float too, so it is weak alone")


def test_a_lone_flow_stays_a_flow(network: Network) -> None:
    (row,) = told(network, [flow("2025-02-20")])
    assert (row["support"], row["weak"], row["reason"]) == ("flow", False, "night flow rose")


def test_chatter_is_one_weak_row_and_lends_no_support(network: Network) -> None:
    noisy = spell("2025-02-20 01:00", "2025-03-20", flapping=True, onsets_count=31)
    rise, alarm = told(network, [flow("2025-02-20")], noisy)
    assert (rise["support"], alarm["support"], alarm["weak"]) == ("flow", "alarm", True)
    assert alarm["reason"] == (
        "water on the floor in building Hall 31 times from 2025-02-20 to 2025-03-20: the sensor "
        "chatters, and all of it counts as one weak alarm"
    )


@pytest.mark.parametrize("kind", ["wet_floor", "leak_cable", "chamber_float"])
def test_every_kind_is_an_event_of_its_own_kind(
    network: Network, alarms_of: Make, kind: str
) -> None:
    own = replace(network, sensors=network.sensors.assign(kind=kind))
    rows = alarms_of([("W2", "2025-03-05T01:00", "2025-03-06T07:00")])
    found = spells(
        rows, kinds=own.sensors["kind"].to_dict(), clock=ZoneInfo("UTC"), last_known=D("2025-12-31")
    )
    (row,) = told(own, [], *found)
    assert (row["place_kind"], row["kind"], row["state"]) == ("sensor", kind, "ended")
    assert (row["start"], row["end"]) == (D("2025-03-05"), D("2025-03-06"))
    assert row["run_d"] == row["run_d_low"] == row["run_d_high"] == 1.25
    assert "the zone's flow shows nothing then" in row["reason"]


def test_the_order_to_act_in() -> None:
    def row(place: str, kind: str, support: str, start: str = "2025-10-01") -> dict[str, Any]:
        return {
            "place_kind": place,
            "kind": kind,
            "support": support,
            "start": D(start),
            "state": "open",
        }

    events = pd.DataFrame(
        [
            row("zone", "leak", "both"),
            row("sensor", "chamber_float", "both"),
            row("sensor", "wet_floor", "alarm", "2025-12-30"),
            row("sensor", "leak_cable", "alarm", "2025-12-29"),
            row("zone", "leak", "flow"),
            row("building", "building_flow", "flow"),
            row("sensor", "wet_floor", "alarm", "2025-12-28"),
            row("sensor", "chamber_float", "alarm", "2025-12-31"),
        ]
    )
    assert tiers(events, last_known=D("2025-12-31")).tolist() == [0, 0, 1, 1, 2, 2, 3, 4]
