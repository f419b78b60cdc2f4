from __future__ import annotations

import numpy as np
import pytest

from district.watch.changed import changed, remembered
from tests.watch.rows import event, events_of, now


def row(**columns: object) -> dict[str, object]:
    return {str(k): v for k, v in now(events_of((event(**columns),))).iloc[0].items()}


def told(**columns: object) -> dict[str, object]:
    one = row(**columns)
    return one | remembered(one)


@pytest.mark.parametrize("size", [1.05, 1.24, 0.8, np.nan])
def test_a_flow_within_a_quarter_is_no_news(size: float) -> None:
    assert changed(told(), row(size=size)) == ""


def test_a_flow_within_its_wide_limits_is_no_news() -> None:
    wide = told() | {"told_size_l_s_low": 0.0, "told_size_l_s_high": 3.0}
    assert changed(wide, row(size=1.6)) == ""


def test_all_that_changed_is_said_in_one_sentence() -> None:
    said = changed(told(act=False), row(kind="boundary", size=2.0, state="ended"))
    assert said.split("; ") == [
        "taken for valve or border between zones changed, then for new leak",
        "it is ended, it was open",
        "its flow is 2.00\xa0L/s (1.90 to 2.10), it was 1.00\xa0L/s (0.90 to 1.10)",
        "it is now to be acted on",
    ]


def test_a_leak_that_stops_growing_calls_nobody() -> None:
    assert changed(told(kind="growing_leak"), row(kind="leak")) == ""
