"""What speaks for and against each cause, typed by hand."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.detect.accused import Accused
from district.detect.causes import PRIOR, weigh
from district.detect.evidence import (
    Evidence,
    growth,
    holidays,
    lasting,
    off_meter,
    on_weekdays,
    opposite,
    works_seen,
)
from district.detect.neighbours import Opposite
from district.detect.recorded import Work
from district.detect.runs import Run
from district.event_settings import Holiday
from district.schema.event_tables import CAUSE_KINDS
from district.settings import Settings

DAY = pd.Timestamp("2031-04-11")


def run(**changes: Any) -> Run:
    flow = np.where(np.arange(200) >= 100, 0.4, 0.0)
    made = {"position": 100, "low": 100, "high": 100, "detected": 101, "base_l_s": 0.5}
    return Run(**{**made, "flow_l_s": flow, "error_l_s": 0.01, **changes})


def work(kind: str) -> Work:
    return Work(kind, DAY, DAY, "V1", frozenset({"V1"}))


def kind(*seen: Evidence) -> str:
    return weigh(PRIOR, seen).kind()


def test_a_short_rise_is_use_unless_a_repair_ended_it() -> None:
    short = run(last=102)
    assert kind(lasting(short, nights_count=3, mended=None)) == "use"
    assert kind(lasting(short, nights_count=3, mended=work("repair"))) == "leak"
    assert kind(lasting(run(last=190), nights_count=91, mended=None)) == "leak"


def test_the_longer_it_lasts_the_less_it_is_use() -> None:
    shares = [
        weigh(PRIOR, [lasting(run(), nights_count=n, mended=None)]).shares["use"]
        for n in (3, 20, 90)
    ]
    assert shares[0] == pytest.approx(PRIOR["use"])  # nothing is over yet
    assert shares == sorted(shares, reverse=True)


def test_a_rise_that_grows_is_a_growing_leak() -> None:
    assert kind(growth(run(growth_l_s_d=0.01))) == "growing_leak"
    assert kind(growth(run())) == "leak"


@pytest.mark.parametrize(
    ("what", "expected"), [("flushing", "use"), ("meter_change", "meter_fault")]
)
def test_a_work_that_accounts_for_it_decides(what: str, expected: str) -> None:
    found = weigh(PRIOR, works_seen(work(what), None))
    assert found.kind() == expected
    assert found.leak_share() < 0.1


def test_an_operated_valve_speaks_for_the_boundary_and_flushing_for_nothing() -> None:
    found = weigh(PRIOR, works_seen(None, work("valve_operation")))
    assert found.shares["boundary"] > 0.5
    assert weigh(PRIOR, works_seen(None, work("flushing"))).shares == pytest.approx(PRIOR)
    assert works_seen(None, None) == []


def test_a_meter_that_the_balance_accuses_is_named() -> None:
    meter = Accused("M2", "V2", "V1", DAY, DAY, 0.1, 1.0)
    assert kind(*off_meter(meter)) == "meter_fault"
    assert off_meter(None) == []


def beside(log: float, *what: str) -> Opposite:
    return Opposite("V2", what or ("valve X1",), -0.4, log)


def test_a_zone_that_fell_by_as_much_names_the_boundary_or_the_meter() -> None:
    seen = opposite([beside(6.0)], touched=True, from_outside=True)
    assert kind(*seen) == "boundary"
    assert seen[0].text == "zone V2 fell by 0.4 L/s on the same nights"
    between = opposite([beside(6.0, "meter M2")], touched=True, from_outside=False)
    assert kind(*between) == "meter_fault"


def test_a_meter_from_outside_may_be_wrong_without_another_zone() -> None:
    still = opposite([beside(-6.0)], touched=True, from_outside=True)
    nested = opposite([beside(-6.0, "meter M2")], touched=True, from_outside=False)
    share = [weigh(PRIOR, s).shares for s in (still, nested)]
    assert share[0]["meter_fault"] > 5 * share[1]["meter_fault"]
    assert max(s["boundary"] for s in share) < 0.01
    assert still[0].text == "no zone that touches it fell by as much"


def test_without_touching_zones_or_their_nights() -> None:
    alone = opposite([], touched=False, from_outside=True)
    dark = opposite([], touched=True, from_outside=True)
    assert alone[0].log["boundary"] < dark[0].log["boundary"] < 0


def test_a_rise_within_a_holiday_is_use() -> None:
    settings = Settings(holidays=(Holiday(first=date(2031, 4, 10), last=date(2031, 4, 20)),))
    days = pd.Timedelta(days=1)
    (inside,) = holidays(DAY, DAY + 5 * days, settings=settings)
    assert inside.log["use"] > 2
    (begun,) = holidays(DAY, None, settings=settings)
    assert 0 < begun.log["use"] < inside.log["use"]
    assert holidays(DAY + 60 * days, None, settings=settings) == []


def weekly(size: float, at_weekends: float, seed: int = 1) -> list[Evidence]:
    weekend = np.arange(200) % 7 >= 5
    rise = np.where(weekend, at_weekends, size) * (np.arange(200) >= 100)
    noise = np.random.default_rng(seed).normal(0, 0.03, 200)
    return on_weekdays(0.5 + rise + noise, run(), sigma_l_s=0.03, weekend=weekend, last=199)


def test_nights_alone_tell_a_flow_of_working_days() -> None:
    (seen,) = weekly(0.4, 0.0)
    assert seen.log["use"] > 3
    assert seen.text.endswith("larger on working days")
    (same,) = weekly(0.4, 0.4)
    assert same.log["use"] == pytest.approx(np.log(0.5), abs=0.2)


def test_few_nights_or_growth_tell_nothing_of_the_week() -> None:
    flow, weekend = np.full(200, 0.9), np.arange(200) % 7 >= 5
    rest = {"sigma_l_s": 0.03, "weekend": weekend}
    assert on_weekdays(flow, run(), last=103, **rest) == []
    assert on_weekdays(flow, run(growth_l_s_d=0.01), last=199, **rest) == []


def test_every_factor_belongs_to_a_cause() -> None:
    seen = [
        lasting(run(), nights_count=9, mended=None),
        growth(run()),
        *works_seen(work("flushing"), None),
        *opposite([beside(1.0)], touched=True, from_outside=True),
    ]
    for one in seen:
        assert set(one.log) <= set(CAUSE_KINDS)
