"""Night against day of the recent record: its statistics over many draws of the stated errors."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy import sparse

from district.balance.closing import Closing, closing
from district.balance.equations import Equations
from district.balance.meter_errors import meter_errors

CELLS = pd.Index(["A", "B", "C"], dtype=object)
METERS = pd.Index(["M0", "M1", "M2"], dtype=object)
SIGNS = np.array([[1.0, -1.0, -1.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
NIGHT, DAY = np.array([3.0, 1.0, 0.8]), np.array([12.0, 4.0, 3.0])
K = 0.9
USE_NIGHT, USE_DAY = 0.05, 0.2
DAYS = pd.date_range("2026-01-01", periods=28, freq="D")


def drawn(rng: Any, *, off: Any = 0.0) -> Closing:
    """Meters err by their 2 %, use by its deviations; leakage is what is left."""
    share = rng.normal(0.0, 0.02 / 1.96, 3) + off
    # What each cell truly lets out, by night and by day.
    out_night = SIGNS @ NIGHT
    leak = out_night - 0.3
    use_day = SIGNS @ DAY - K * leak
    left_night = SIGNS @ (NIGHT * (1 + share)) - (0.3 + rng.normal(0, USE_NIGHT, 3))
    left_day = SIGNS @ (DAY * (1 + share)) - (use_day + rng.normal(0, USE_DAY, 3))
    scatter = rng.normal(0, 0.01, (2, 28, 3))
    known = Equations(
        days=DAYS,
        cells=CELLS,
        meters=METERS,
        upstream=np.array([-1, 0, 0]),
        downstream=np.array([0, 1, 2]),
        night_l_s=left_night + scatter[0],
        day_l_s=left_day + scatter[1],
        night_flow_l_s=np.tile(NIGHT * (1 + share), (28, 1)),
        day_flow_l_s=np.tile(DAY * (1 + share), (28, 1)),
        factor_share=np.full(3, K),
        use_l_s=use_day,
        metered_share=np.zeros(28),
    )
    layout: Any = SimpleNamespace(
        cells=CELLS,
        meters=METERS,
        signs=sparse.csr_array(SIGNS),
        errors=meter_errors(METERS, pd.Series([2.0] * 3, index=METERS), pd.DataFrame()),
    )
    spreads = pd.DataFrame(
        {"cell_id": CELLS, "night": DAYS[0], "legitimate_use_systematic_l_s": USE_NIGHT}
    )
    volumes: Any = SimpleNamespace(
        user_m3=np.zeros((28, 0)),
        devices=SimpleNamespace(ids=[], inside=np.zeros((3, 0)), error_share=np.zeros(0)),
        unmetered=SimpleNamespace(systematic=np.full(3, USE_DAY * 86.4)),
    )
    night: Any = SimpleNamespace(spreads=spreads)
    return closing(
        known,
        layout,
        night=night,
        volumes=volumes,
        factor_deviation_share=np.zeros(3),
        recent_days=28,
    )


def test_the_global_test_gives_a_false_alarm_as_often_as_it_says() -> None:
    rng = np.random.default_rng(11)
    found = [drawn(rng) for _ in range(400)]
    beyond = np.mean([f.statistic_index > f.critical_index for f in found])
    assert 0.02 < beyond < 0.09
    assert found[0].freedom_count == 3
    assert np.mean([f.statistic_index for f in found]) == pytest.approx(3.0, rel=0.12)


def test_reconciled_flows_and_leakage_are_nearer_to_the_truth_as_stated() -> None:
    rng = np.random.default_rng(12)
    found = [drawn(rng) for _ in range(400)]
    for raw, better, deviation, true in (
        ("flow_l_s", "reconciled_l_s", "reconciled_deviation_l_s", DAY),
        (
            "leakage_l_s",
            "reconciled_leakage_l_s",
            "reconciled_leakage_deviation_l_s",
            SIGNS @ NIGHT - 0.3,
        ),
    ):
        before = np.array([getattr(f, raw) for f in found]) - true
        after = np.array([getattr(f, better) for f in found]) - true
        assert (after.std(axis=0) <= before.std(axis=0) * 1.01).all()
        stated = np.array([getattr(f, deviation) for f in found]).mean(axis=0)
        assert after.std(axis=0) == pytest.approx(stated, rel=0.12)
        assert abs(after.mean(axis=0)).max() < 0.02


def test_a_gross_error_passes_the_critical_value_and_its_size_is_estimated() -> None:
    rng = np.random.default_rng(13)
    found = [drawn(rng, off=np.array([0.0, 0.3, 0.0])) for _ in range(60)]
    assert np.mean([f.meter_index[1] > f.one_critical_index for f in found]) > 0.9
    assert np.mean([f.off_share[1] for f in found]) == pytest.approx(0.3 / 1.3, abs=0.04)
    assert np.mean([f.meter_index.argmax() == 1 for f in found]) > 0.9


def test_cells_without_a_week_of_both_are_left_out() -> None:
    found = drawn(np.random.default_rng(1))
    assert np.isfinite(found.zone_index).all()
    assert (found.checked_share > 0).all()
    assert (found.checked_share < 1).all()
