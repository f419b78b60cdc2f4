from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import time
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from district.check import check_coverage
from district.network import Network, build_network
from district.results import Inputs
from district.settings import District, Night, Settings
from tests.examples import examples

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]
Tables = dict[str, pd.DataFrame]


@pytest.fixture
def network(inputs: Inputs) -> Network:
    return build_network(inputs, settings=Settings())


def quality(*rows: tuple[str, str, str], step_h: float = 0.25) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["device_id", "first_utc", "last_utc"])
    for column in ("first_utc", "last_utc"):
        frame[column] = pd.to_datetime(frame[column], utc=True, format="ISO8601")
    return frame.assign(
        step_h=step_h,
        readings_count=100,
        missing_share=0.0,
        unusable_share=0.0,
        resolution_m3=0.01,
        source="readings/*.csv",
    )


def nights(device_id: str, days: Iterable[Any]) -> pd.DataFrame:
    frame = pd.DataFrame({"device_id": device_id, "night": list(days)})
    return frame.assign(flow_l_s=1.0, window_h=2.0, coverage_share=1.0)


def volumes(device_id: str, days: Iterable[Any], volume_m3: float = 5.0) -> pd.DataFrame:
    frame = pd.DataFrame({"device_id": device_id, "day": list(days)})
    return frame.assign(volume_m3=volume_m3, coverage_share=1.0, spread_share=0.0)


SPRING = pd.date_range("2025-03-01", "2025-03-31")


@pytest.fixture
def tables() -> Tables:
    devices = ("M1", "M2", "K1")
    return {
        "quality": quality(*[(d, "2025-03-01", "2025-04-01") for d in devices]),
        "night_flows": pd.concat([nights(d, SPRING) for d in devices], ignore_index=True),
        "daily_volumes": pd.concat(
            [volumes("M1", SPRING, 20.0), volumes("M2", SPRING), volumes("K1", SPRING)],
            ignore_index=True,
        ),
    }


def _found(tables: Tables, network: Network, says: Says, **settings: Any) -> list[str]:
    given = Settings(**settings)
    return says(check_coverage(*tables.values(), network=network, settings=given))


def test_whole_records_give_no_finding(tables: Tables, network: Network, says: Says) -> None:
    assert _found(tables, network, says) == []


def test_no_readings_at_all_are_left_to_the_reading(
    tables: Tables, network: Network, says: Says
) -> None:
    assert _found({n: t.iloc[:0] for n, t in tables.items()}, network, says) == []


@pytest.mark.parametrize(
    ("sources", "named"),
    [
        ([None, None, None], "readings"),
        (["a.csv", "a.csv", "a.csv"], "a.csv"),
        (["b.csv", "a.csv", "a.csv"], "a.csv and b.csv"),
        (["a.csv", "b.csv", "c.csv"], "readings"),
    ],
)
def test_the_files_of_the_devices_are_named_if_few(
    sources: list[str | None], named: str, tables: Tables, network: Network
) -> None:
    late = volumes("K1", pd.date_range("2024-03-01", "2024-03-31"))
    daily = tables["daily_volumes"]
    tables["daily_volumes"] = pd.concat([daily[daily["device_id"] != "K1"], late])
    tables["quality"] = tables["quality"].assign(source=sources)
    (found,) = check_coverage(*tables.values(), network=network, settings=Settings())
    assert found.source == named


def test_a_finding_about_one_meter_names_its_own_file(tables: Tables, network: Network) -> None:
    tables["quality"] = quality(("M1", "2025-03-01", "2025-03-02")).assign(source="m1.csv")
    (found,) = check_coverage(*tables.values(), network=network, settings=Settings())
    assert (found.source, found.place) == ("m1.csv", "meter M1")


def test_the_tables_are_not_changed(tables: Tables, network: Network) -> None:
    tables["quality"] = quality(("M1", "2025-03-01", "2025-03-02"))
    before = {name: table.copy() for name, table in tables.items()}
    check_coverage(*tables.values(), network=network, settings=Settings())
    for name, table in tables.items():
        pd.testing.assert_frame_equal(table, before[name])


def test_no_overlap_of_inflow_and_consumption(tables: Tables, network: Network, says: Says) -> None:
    days = pd.date_range("2024-03-01", "2024-03-31")
    tables["daily_volumes"] = pd.concat(
        [volumes("M1", SPRING), volumes("M2", SPRING), volumes("K1", days)]
    )
    assert _found(tables, network, says) == [
        "error: readings/*.csv: got inflow from 2025-03-01 to 2025-03-31, but consumption from "
        "2024-03-01 to 2024-03-31, expected days on which both zone meters and building or "
        "customer meters were read. Add the readings of the missing period; check the date format "
        "and the year of both."
    ]


def test_inflow_without_any_metered_use_is_no_finding(
    tables: Tables, network: Network, says: Says
) -> None:
    daily = tables["daily_volumes"]
    tables["daily_volumes"] = daily[daily["device_id"] != "K1"]
    assert _found(tables, network, says) == []


def test_record_that_ends_early(tables: Tables, network: Network, says: Says) -> None:
    tables["quality"] = quality(
        ("M1", "2025-03-01", "2025-04-01"),
        ("M2", "2025-03-01", "2025-03-24T23:00:00"),
        ("K1", "2025-03-01", "2025-03-10"),
    )
    assert _found(tables, network, says, district=District(timezone="Europe/Athens")) == [
        "warning: readings/*.csv, meter M2: got a record that ends on 2025-03-25, expected "
        "readings up to 2025-04-01, as other zone meters have. Fetch the missing readings; "
        "without them the zones beside it have no balance after that day."
    ]


def test_seven_days_less_is_not_early(tables: Tables, network: Network, says: Says) -> None:
    tables["quality"] = quality(
        ("M1", "2025-03-01", "2025-04-01"), ("M2", "2025-03-01", "2025-03-25")
    )
    assert _found(tables, network, says) == []


@pytest.mark.parametrize(
    ("first", "last", "count"),
    [
        ("2025-03-19T02:00:00", "2025-03-31T04:00:00", 13),
        ("2025-03-18T02:15:00", "2025-04-01T03:45:00", 13),
    ],
)
def test_short_record(
    first: str, last: str, count: int, tables: Tables, network: Network, says: Says
) -> None:
    tables["quality"] = quality(("M1", "2025-03-01", "2025-04-01"), ("M2", first, last))
    assert _found(tables, network, says) == [
        f"warning: readings/*.csv, meter M2: got a record of {count} nights, expected at least 14 "
        "nights, so that their spread can be told. Add older readings if there are any, and treat "
        "the figures as first ones."
    ]


def test_fourteen_nights_are_enough(tables: Tables, network: Network, says: Says) -> None:
    tables["quality"] = quality(
        ("M1", "2025-03-01", "2025-04-01"), ("M2", "2025-03-18T02:00:00", "2025-03-31T04:00:00")
    )
    assert _found(tables, network, says) == []


def test_record_of_a_few_hours(tables: Tables, network: Network, says: Says) -> None:
    tables["quality"] = quality(
        ("M1", "2025-03-01", "2025-04-01"), ("M2", "2025-03-31T09:00:00", "2025-03-31T12:00:00")
    )
    assert _found(tables, network, says)[0].startswith(
        "warning: readings/*.csv, meter M2: got a record of 0 nights,"
    )


def test_few_usable_nights_in_a_zone(tables: Tables, network: Network, says: Says) -> None:
    # The last 28 nights are those from 4 March on.
    tables["night_flows"] = pd.concat(
        [nights("M1", SPRING), nights("M2", SPRING[:9]).assign(flow_l_s=[*[1.0] * 7, np.nan, 1.0])]
    )
    assert _found(tables, network, says) == [
        f"warning: readings/*.csv, zone {zone}: got 5 of the last 28 nights with a flow at every "
        "meter of the zone, expected at least 7. Fetch the missing readings, first of meter M2 "
        "(5 nights)."
        for zone in ("MILL", "QUAY")
    ]


def test_coarse_pulse(tables: Tables, says: Says, inputs: Inputs, edit: Change) -> None:
    pulsing = build_network(edit(inputs, "meters", "K1", kind="pulse"), settings=Settings())
    coarse = tables["quality"]["device_id"] == "K1"
    tables["quality"].loc[coarse, "resolution_m3"] = 1.0
    # 1000 L over the 7200 s of a two-hour window: 0.139 L/s, by hand.
    assert _found(tables, pulsing, says) == [
        "note: readings/*.csv, meter K1: got pulses of 1000 L: over the 2 h of the night "
        "window no flow below 0.14 L/s shows, expected a smallest flow of 0.1 L/s or less. "
        "Set the meter to finer pulses, or widen the night window."
    ]
    assert _found(tables, pulsing, says, night=Night(start=time(1), end=time(5))) == []
    tables["quality"].loc[coarse, "step_h"] = 730.0
    assert _found(tables, pulsing, says) == []


def test_coarse_register(tables: Tables, network: Network, says: Says) -> None:
    tables["quality"].loc[tables["quality"]["device_id"] == "M1", "resolution_m3"] = 10.0
    assert _found(tables, network, says)[0].startswith(
        "note: readings/*.csv, meter M1: got steps of the register of 10000 L: over the 2 h of "
        "the night window no flow below 1.4 L/s shows"
    )


@hypothesis_settings(
    deadline=None,
    max_examples=examples(8),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(seed=st.integers(0, 2**32 - 1))
def test_the_order_of_rows_changes_nothing_and_nothing_is_changed(
    seed: int, network: Network
) -> None:
    broken = {
        "quality": quality(
            ("M1", "2025-03-01", "2025-04-01"),
            ("M2", "2025-03-12", "2025-03-20"),
            ("K1", "2024-03-01", "2024-03-20"),
        ).assign(resolution_m3=2.0),
        "night_flows": pd.concat([nights("M1", SPRING), nights("M2", SPRING[11:14])]),
        "daily_volumes": pd.concat(
            [volumes("M1", SPRING), volumes("K1", SPRING - pd.Timedelta(days=365))]
        ),
    }
    before = {n: t.copy(deep=True) for n, t in broken.items()}
    found = check_coverage(*broken.values(), network=network, settings=Settings())
    assert len(found) >= 5
    for name, table in before.items():
        pd.testing.assert_frame_equal(broken[name], table)
    shuffled = [t.sample(frac=1, random_state=seed) for t in broken.values()]
    assert check_coverage(*shuffled, network=network, settings=Settings()) == found


def test_meters_read_too_seldom_for_the_night(tables: Tables, network: Network, says: Says) -> None:
    quality_, night = tables["quality"], tables["night_flows"]
    seldom = quality_["device_id"] == "M2"
    tables["quality"] = quality_.assign(step_h=quality_["step_h"].mask(seldom, 24.0))
    tables["night_flows"] = night[night["device_id"] != "M2"]
    found = _found(tables, network, says)
    assert (
        "warning: readings/*.csv, meter M2: got a reading every 24 h, expected one an hour or more "
        "often, so that the night can be told from the day. Read it every quarter of an hour; "
        "until then the zones beside it have no night flow."
    ) in found
    assert (
        "error: readings/*.csv: got no night on which every meter of a zone was read, expected at "
        "least one zone whose meters were all read, hourly or more often, from 02:00 to 04:00. "
        "Add such readings, first of meters M1 and M2 around zone MILL."
    ) in found


def test_one_zone_with_nights_is_enough(tables: Tables, network: Network, says: Says) -> None:
    night = tables["night_flows"]
    tables["night_flows"] = night[night["device_id"] != "M1"]
    assert not any("got no night" in line for line in _found(tables, network, says))
