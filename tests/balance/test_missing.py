"""Missing meters estimated from both sides; hand-typed districts."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import sparse

from district.balance.missing import missing_flows

# Source -> North (M0) -> South (M1) -> East (M2)
SIGNS = np.array([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0], [0.0, 0.0, 1.0]])
USE = np.tile([0.4, 0.3, 0.2], (40, 1))


def layout() -> Any:
    return SimpleNamespace(
        cells=["North", "South", "East"], meters=["M0", "M1", "M2"], signs=sparse.csr_array(SIGNS)
    )


def flows(seed: int = 1, scatter: float = 0.02) -> np.ndarray:
    rng = np.random.default_rng(seed)
    out = USE + np.array([0.5, 0.3, 0.1]) + rng.normal(0.0, scatter, (40, 3))
    return np.cumsum(out[:, ::-1], axis=1)[:, ::-1]


def filled(flow: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return missing_flows(layout(), flow, use_l_s=USE, use_deviation_l_s=np.zeros((40, 3)))


def test_a_transfer_meter_is_estimated_and_the_sum_of_both_sides_is_exact() -> None:
    true = flows()
    flow = true.copy()
    flow[20:23, 1] = np.nan
    found, added = filled(flow)
    assert found[20:23, 1] == pytest.approx(true[20:23, 1], abs=0.06)
    net = (SIGNS @ found.T).T
    whole = (SIGNS @ true.T).T
    assert net[:, :2].sum(axis=1) == pytest.approx(whole[:, :2].sum(axis=1))
    assert (added[20:23, :2] > 0).all()
    assert (added[:, 2] == 0).all()
    assert (np.delete(added, [20, 21, 22], axis=0) == 0).all()


def test_the_stated_deviation_is_that_of_many_draws() -> None:
    errors, stated = [], []
    for seed in range(150):
        true = flows(seed)
        flow = true.copy()
        flow[20, 1] = np.nan
        found, added = filled(flow)
        errors.append(found[20, 1] - true[20, 1])
        stated.append(added[20, 0])
    # Two cells of one scatter: the estimate is their mean, off by scatter over root two.
    assert np.std(errors) == pytest.approx(0.02 / np.sqrt(2), rel=0.25)
    assert np.median(stated) == pytest.approx(np.std(errors), rel=0.35)


def test_an_inlet_from_the_source_is_not_estimated() -> None:
    flow = flows()
    flow[20, 0] = np.nan
    found, added = filled(flow)
    assert np.isnan(found[20, 0])
    assert (added == 0).all()


def test_with_the_inlet_missing_too_only_what_both_sides_tell_is_estimated() -> None:
    true = flows()
    flow = true.copy()
    flow[20, [0, 1]] = np.nan
    assert np.isnan(filled(flow)[0][20, [0, 1]]).all()
    flow = true.copy()
    flow[20, [1, 2]] = np.nan
    assert filled(flow)[0][20] == pytest.approx(true[20], abs=0.08)


def test_without_nearby_nights_nothing_is_estimated() -> None:
    flow = flows()
    flow[:37, 1] = np.nan
    found, _ = filled(flow)
    assert np.isnan(found[:37, 1]).all()


def test_nothing_missing_changes_nothing() -> None:
    flow = flows()
    found, added = filled(flow)
    assert (found == flow).all()
    assert (added == 0).all()
