"""Published rates of dripping taps, toilets and pipes, and the rule of flow that never stops.

Sources: US EPA, as others repeat it (murrieta-plumber.com, cbcwsc.com: seen), and energy.gov
(seen); a running toilet, the burst of a service pipe at 50 m and Britton, Stewart & O'Halloran
(2013) from memory. Units: Pint, an independent library.
"""

from __future__ import annotations

import numpy as np
import pint
import pytest

from district.detect.magnitude import RATES, as_much_as
from tests.detect.still_series import checked, household, quality_of, registered, still_of

UNITS = pint.UnitRegistry()
PRINTED = {
    # Words of ours, the figure as printed.
    "a tap that drips ten times a minute": (500, "gallon/year"),
    "a tap that drips once a second": (3000, "gallon/year"),
    "a toilet that runs on": (200, "gallon/day"),
    "a hole of 0.8 mm in an irrigation pipe": (6300, "gallon/month"),
    "a broken service pipe": (1.6, "m**3/hour"),
}


def printed_l_d(words: str) -> float:
    value, unit = PRINTED[words]
    return float(UNITS.Quantity(value, unit).to("liter/day").magnitude)


@pytest.mark.parametrize("words", PRINTED)
def test_rates_are_those_printed(words: str) -> None:
    (ours,) = (r.flow_l_d for r in RATES if r.words == words)
    assert ours == pytest.approx(printed_l_d(words), rel=2e-3)


def test_the_two_drips_of_the_epa_are_of_one_size() -> None:
    # 60 drips a minute against 10: six times; 3,000 gal a year make a drop of 0.36 mL.
    slow, fast = RATES[0].flow_l_d, RATES[1].flow_l_d
    assert fast / slow == pytest.approx(6.0)
    assert fast / 86400 * 1000 == pytest.approx(0.36, abs=0.005)


def test_half_a_cup_a_minute_is_45_gallons_a_day_not_the_48_printed() -> None:
    by_unit = UNITS.Quantity(0.5, "cup/minute").to("gallon/day").magnitude
    assert by_unit == pytest.approx(45.0)
    (ours,) = (r.flow_l_d for r in RATES if "half a cup" in r.words)
    assert ours == pytest.approx(float(UNITS.Quantity(45.0, "gallon").to("liter").magnitude))


def test_a_service_pipe_by_the_printed_pressure_rate_is_that_of_memory() -> None:
    # 6 gal/h/psi (seen, table 10.8 of the catalogue's source) at 50 m of water.
    psi = UNITS.Quantity(50 * 9.80665, "kilopascal").to("psi").magnitude
    flow = UNITS.Quantity(6 * psi, "gallon/hour").to("m**3/hour").magnitude
    assert flow == pytest.approx(1.6, abs=0.02)


@pytest.mark.parametrize(
    "words",
    [
        # 0.2 L an hour: a step of the register every four to five hours.
        "a tap that drips ten times a minute",
        "a tap that drips once a second",
        "a toilet that runs on",
        "a broken service pipe",
    ],
)
def test_each_rate_is_found_at_a_register_of_one_litre(words: str) -> None:
    litres = household(40, 3)
    litres[24 * 20 :] += printed_l_d(words) / 24
    found = checked(still_of({"A": registered(litres, 1.0)}), quality_of("A")).loc["A"]
    assert found["verdict"] == "constant_flow"
    low, high = found["constant_l_s_low"] * 86400, found["constant_l_s_high"] * 86400
    assert low <= printed_l_d(words) <= high
    assert as_much_as(printed_l_d(words) / 86400) in found["said"]


def test_flow_in_every_hour_of_two_days_is_constant_by_the_rule_of_2013() -> None:
    # Lowest hourly flow above zero over 48 h: Britton, Stewart & O'Halloran 2013, from memory.
    litres = household(30, 8)
    litres[-49:] += 5.0
    for hours, verdict in ((48, "constant_flow"), (50, "still")):
        found = checked(still_of({"A": litres}), quality_of("A"), events={"never_zero_h": hours})
        assert found.loc["A", "verdict"] == verdict


def test_a_flush_is_six_litres_and_then_nothing() -> None:
    # A fact of the trade, no source: cisterns of about six litres.
    flushes = np.zeros(24 * 30)
    flushes[np.random.default_rng(2).integers(0, 24 * 30, 200)] = 6.0
    found = checked(still_of({"A": flushes, "B": flushes + 7.0}), quality_of("A", "B"))
    assert found["verdict"].to_list() == ["still", "constant_flow"]
    assert "six litres and then nothing" in found.loc["B", "said"]
