from __future__ import annotations

from collections.abc import Callable
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from district.store.database import opened
from district.store.keep import load_quality
from district.store.lowest import lowest_hours
from district.store.minima import night_minima
from tests.store.conftest import intervals

BOUNDARIES = pd.DataFrame(
    {"meter_id": ["IN", "AB"], "upstream_cell_id": ["", "A"], "downstream_cell_id": ["A", "B"]}
)
USERS = pd.DataFrame({"device_id": ["U", "U", "V"], "cell_id": ["A", "B", "B"]})


def both(
    place: Path, users: pd.DataFrame | None = USERS, zone: str = "Europe/London"
) -> tuple[pd.DataFrame, pd.DataFrame]:
    with opened(place) as connection:
        minima = night_minima(
            connection,
            load_quality(place),
            BOUNDARIES,
            start=time(0),
            end=time(6),
            zone=ZoneInfo(zone),
        )
        return minima, lowest_hours(connection, minima, BOUNDARIES, users)


def flows(days: int = 6, start: str = "2025-03-28") -> dict[str, pd.DataFrame]:
    """Over the change of clocks; U stamped past the hour, V every half hour."""
    rng = np.random.default_rng(4)
    return {
        "IN": intervals("IN", start, rng.uniform(3, 9, days * 96), 15),
        "AB": intervals("AB", start, rng.uniform(0, 3, days * 96), 15),
        "U": intervals("U", f"{start} 00:07", rng.uniform(0, 1, days * 24)),
        "V": intervals("V", start, rng.uniform(0, 1, days * 48), 30),
    }


def by_minute(frame: pd.DataFrame) -> pd.Series:
    """m³ a minute, from the first minute to the last."""
    minutes = (frame["end_utc"] - frame["start_utc"]) // pd.Timedelta("1min")
    at = pd.date_range(frame["start_utc"].iloc[0], frame["end_utc"].iloc[-1], freq="1min")[:-1]
    return pd.Series(np.repeat(frame["volume_m3"] / minutes, minutes).to_numpy(), index=at)


def test_each_meter_agrees_with_counting_minutes(kept: Callable[..., Path]) -> None:
    flow = flows()
    minima, found = both(kept(*flow.values()))
    assert set(map(tuple, found[["cell_id", "device_id"]].to_numpy())) == {
        ("A", "IN"),
        ("A", "AB"),
        ("A", "U"),
        ("B", "AB"),
        ("B", "U"),
        ("B", "V"),
    }
    starts = minima.set_index(["cell_id", "night"])["start_utc"]
    minutes = {m: by_minute(f) for m, f in flow.items()}
    for row in found.itertuples():
        start = starts[row.cell_id, row.night]
        hour = minutes[row.device_id][start : start + pd.Timedelta("59min")]
        assert row.coverage_share == pytest.approx(len(hour) / 60)
        if len(hour) == 60:
            assert row.flow_l_s == pytest.approx(hour.sum() / 3.6)
            assert row.gross_l_s == pytest.approx(hour.abs().sum() / 3.6)
        else:
            assert np.isnan(row.flow_l_s)


def test_the_meters_at_the_edge_make_the_lowest_hour(kept: Callable[..., Path]) -> None:
    minima, found = both(kept(*flows().values()), users=None)
    signs = pd.Series([1.0, -1.0, 1.0], index=[("A", "IN"), ("A", "AB"), ("B", "AB")])
    sign = [signs[pair] for pair in zip(found["cell_id"], found["device_id"], strict=True)]
    net = (found["flow_l_s"] * sign).groupby([found["cell_id"], found["night"]]).sum()
    assert len(net) == 12
    np.testing.assert_allclose(net, minima["minimum_night_flow_l_s"])


def test_what_was_not_read_is_told(kept: Callable[..., Path]) -> None:
    flow = flows(1, "2025-01-10")
    flow["IN"].loc[8:11, "volume_m3"] = 0.01  # 02:00 to 03:00
    flow["AB"]["volume_m3"] = 0.0
    flow["V"].loc[4, "quality"] = "spike"
    flow["U"] = intervals("U", "2025-01-10", [1.0] * 12, 120)
    _, found = both(kept(*flow.values()))
    of_a = found[found["cell_id"] == "A"]
    # U, read every two hours, says nothing of one.
    assert of_a["device_id"].tolist() == ["AB", "IN"]
    assert of_a["flow_l_s"].tolist() == pytest.approx([0.0, 0.04 / 3.6])
    of_b = found[found["cell_id"] == "B"].set_index("device_id")
    assert of_b["window_h"].tolist() == [1.0, 1.0]
    # Its lowest hour is the first of equal ones: V was read through it.
    assert of_b.loc["V", "coverage_share"] == 1.0


def test_half_an_hour_missing(kept: Callable[..., Path]) -> None:
    flow = flows(1, "2025-01-10")
    flow["V"].loc[0, "quality"] = "spike"
    flow["AB"]["volume_m3"] = 0.5
    _, found = both(kept(*flow.values()))
    v = found[found["device_id"] == "V"].iloc[0]
    assert v["coverage_share"] == 0.5
    assert np.isnan(v["flow_l_s"])


def test_nothing_to_tell(kept: Callable[..., Path]) -> None:
    assert len(both(kept())[1]) == 0
