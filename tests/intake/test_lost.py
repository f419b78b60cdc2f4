"""Findings about records that are short, silent or cleaned."""

from __future__ import annotations

import numpy as np
import pytest

from district.intake.devices import Device
from district.intake.flows import OK, RESET, SPIKE, Flow
from district.intake.lost import flagged, missing

DEVICES = [Device(name, "register", "meter", 1.0) for name in ("M1", "M2", "M10")]
SOURCES = {0: "a.csv", 1: "a.csv", 2: "readings/zone_*.csv"}


def flow(*flaws: int, expected: int = 100, lost: int = 0) -> Flow:
    quality = np.array([OK, *flaws], dtype=np.int8)
    whole = np.arange(len(quality))
    return Flow(whole, whole + 1, whole * 1.0, quality, expected, lost, 1.0)


def test_flaws_are_told_once_a_file_in_the_order_of_ids() -> None:
    flows = {2: flow(SPIKE), 1: flow(SPIKE, RESET), 0: flow(SPIKE, SPIKE)}
    assert [f.sentence() for f in flagged(flows, DEVICES, SOURCES)] == [
        "a.csv, meters M1 and M2: got 3 readings far beyond all others of the same device, "
        "expected none. Nothing need be done; they are left out.",
        "a.csv, meter M2: got 1 reading at which a register fell, as after a change of meter, "
        "expected none. Nothing need be done; it is left out.",
        "readings/zone_*.csv, meter M10: got 1 reading far beyond all others of the same device, "
        "expected none. Nothing need be done; it is left out.",
    ]


@pytest.mark.parametrize(("lost", "told"), [(5, []), (6, ["6 % missing"])])
def test_a_few_missing_readings_are_not_worth_a_word(lost: int, told: list[str]) -> None:
    assert [f.got for f in missing({0: flow(lost=lost)}, DEVICES, SOURCES)] == told


def test_a_short_record_has_no_share_missing() -> None:
    assert missing({0: flow(expected=10, lost=9)}, DEVICES, SOURCES) == []
