"""Steps of meters and scatter of nights, against drawn readings."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.balance.noise import night_scatter_l_s, step_deviation_l_s

IDS = pd.Index(["M1", "M2", "M3", "M4"], dtype=object)
QUALITY = pd.DataFrame(
    {
        "device_id": ["M3", "M2", "M1"],
        "kind": ["pulse", "register", "electromagnetic"],
        "step_h": [0.25, 1.0, 0.25],
        "resolution_m3": [1.0, 0.1, 0.009],
    }
)


def test_a_rate_is_rounded_at_every_reading_and_a_register_cut_twice() -> None:
    window = np.array([[2.0], [3.0]])
    found = step_deviation_l_s(QUALITY, IDS, window_h=window)
    assert found.shape == (2, 4)
    assert found[0] == pytest.approx(
        [9 * np.sqrt(8 / 12) / 7200, 100 / np.sqrt(6) / 7200, 1000 / np.sqrt(6) / 7200, 0.0]
    )
    assert found[1, 0] == pytest.approx(9 * np.sqrt(12 / 12) / 10800)


def test_rounded_rates_agree_with_drawn_ones() -> None:
    # Independent reference: mean of eight quarter-hourly rates, each rounded to 0.01 L/s.
    rates = np.random.default_rng(5).normal(0.3, 0.1, (50_000, 8))
    off = (np.round(rates, 2) - rates).mean(axis=1)
    found = step_deviation_l_s(QUALITY, IDS[:1], window_h=np.array([[2.0]]))
    assert off.std() == pytest.approx(float(found[0, 0]), rel=0.02)


def test_a_table_without_steps_gives_none() -> None:
    bare = QUALITY.assign(resolution_m3=np.nan, step_h=np.nan)
    assert not step_deviation_l_s(bare, IDS, window_h=np.array([[2.0]])).any()


def test_scatter_is_that_of_chance_whatever_else_happens() -> None:
    chance = np.random.default_rng(6).normal(0.0, 0.02, (365, 2))
    night = np.arange(365)[:, None]
    flow = chance + 0.4 * (night >= 180) + np.array([0.0, 0.004]) * night  # a step; and growth
    flow[50:52] += 3.0
    found = night_scatter_l_s(flow, usable=np.ones((365, 2), dtype=bool))
    assert found == pytest.approx([0.02, 0.02], rel=0.15)


def test_only_neighbouring_usable_nights_tell_scatter() -> None:
    flow = np.random.default_rng(7).normal(0.0, 0.02, (60, 2))
    usable = np.ones((60, 2), dtype=bool)
    usable[::2, 0] = False
    usable[15:, 1] = False
    assert night_scatter_l_s(flow, usable=usable)[0] == 0.0
    assert night_scatter_l_s(flow, usable=usable)[1] > 0.0
    usable[14:, 1] = False
    assert night_scatter_l_s(flow, usable=usable)[1] == 0.0


def test_no_nights_tell_no_scatter() -> None:
    nothing = np.empty((0, 3))
    assert night_scatter_l_s(nothing, usable=nothing.astype(bool)).tolist() == [0.0, 0.0, 0.0]
