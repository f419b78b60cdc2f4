"""The algebra of reconciliation against general-purpose solvers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import chi2

from district.balance.reconcile import likelihood_ratios, reconcile

# Two junctions typed by hand: stream 1 = 2 + 3, and 2 + 3 = 4 through a second junction.
EQUATIONS = np.array([[1.0, -1.0, -1.0, 0.0], [0.0, 1.0, 1.0, -1.0]])
MEASURED = np.array([101.9, 64.45, 34.65, 98.0])
COVARIANCE = np.diag([4.0, 1.5, 0.8, 2.0])


def test_the_estimate_is_the_kkt_solution() -> None:
    inverse = np.linalg.inv(COVARIANCE)
    system = np.block([[inverse, EQUATIONS.T], [EQUATIONS, np.zeros((2, 2))]])
    solved = np.linalg.solve(system, np.concatenate([inverse @ MEASURED, np.zeros(2)]))[:4]
    found = reconcile(MEASURED, covariance=COVARIANCE, equations=EQUATIONS)
    assert found.values == pytest.approx(solved)
    assert EQUATIONS @ found.values == pytest.approx([0.0, 0.0], abs=1e-9)


def test_the_estimate_is_the_least_that_a_general_optimiser_finds() -> None:
    def off(x: np.ndarray) -> float:
        return float((x - MEASURED) @ np.linalg.solve(COVARIANCE, x - MEASURED))

    least = minimize(
        off, MEASURED, constraints={"type": "eq", "fun": lambda x: EQUATIONS @ x}, tol=1e-12
    )
    found = reconcile(MEASURED, covariance=COVARIANCE, equations=EQUATIONS)
    assert found.values == pytest.approx(least.x, abs=1e-4)
    # The global statistic is the least weighted distance itself.
    assert found.statistic_index == pytest.approx(least.fun, abs=1e-6)
    assert found.critical_index == pytest.approx(5.991, abs=0.001)  # chi-square table, 2 degrees


def test_deviations_and_tests_are_those_of_many_draws() -> None:
    rng = np.random.default_rng(4)
    true = np.array([100.0, 65.0, 35.0, 100.0])
    draws = true + rng.normal(size=(4000, 4)) * np.sqrt(np.diag(COVARIANCE))
    found = [reconcile(y, covariance=COVARIANCE, equations=EQUATIONS) for y in draws]
    values = np.array([f.values for f in found])
    assert values.std(axis=0) == pytest.approx(found[0].deviation, rel=0.05)
    assert np.array([f.adjusted_index for f in found]).std(axis=0) == pytest.approx(1.0, rel=0.05)
    beyond = np.mean([f.statistic_index > f.critical_index for f in found])
    assert 0.035 < beyond < 0.065
    assert np.mean([f.statistic_index for f in found]) == pytest.approx(chi2.mean(2), rel=0.06)


def test_a_reading_no_equation_holds_is_left_alone() -> None:
    equations = np.array([[1.0, -1.0, 0.0]])
    found = reconcile(np.array([5.0, 4.0, 9.0]), covariance=np.eye(3), equations=equations)
    assert found.values == pytest.approx([4.5, 4.5, 9.0])
    assert found.adjusted_index[2] == 0.0
    assert found.deviation[2] == pytest.approx(1.0)


def test_the_likelihood_ratio_is_what_a_free_size_takes_off_the_global_statistic() -> None:
    residual = EQUATIONS @ MEASURED
    spread = EQUATIONS @ COVARIANCE @ EQUATIONS.T
    signatures = np.column_stack([EQUATIONS, [1.0, 0.0]])  # a bias of each meter; a leak at one
    statistic, size = likelihood_ratios(residual, covariance=spread, signatures=signatures)
    root = np.linalg.inv(np.linalg.cholesky(spread))
    for column in range(signatures.shape[1]):
        f = signatures[:, column]
        fitted, left, *_ = np.linalg.lstsq((root @ f)[:, None], root @ residual, rcond=None)
        whole = float(residual @ np.linalg.solve(spread, residual))
        assert size[column] == pytest.approx(fitted[0])
        assert statistic[column] == pytest.approx(whole - float(left[0]))


def test_a_bias_in_a_meter_is_told_from_a_leak_at_a_node() -> None:
    spread = EQUATIONS @ COVARIANCE @ EQUATIONS.T
    signatures = np.column_stack([EQUATIONS, np.eye(2)])
    true = np.array([100.0, 65.0, 35.0, 100.0])
    biased, _ = likelihood_ratios(
        EQUATIONS @ (true + np.array([0, 12.0, 0, 0])), covariance=spread, signatures=signatures
    )
    assert biased.argmax() in (1, 2)  # meters 2 and 3 lie side by side: they cannot be told apart
    leaking, size = likelihood_ratios(
        EQUATIONS @ (true - np.array([0, 0, 0, 12.0])), covariance=spread, signatures=signatures
    )
    assert leaking[3] == pytest.approx(leaking[5])  # the last meter low, or a leak before it
    assert size[5] == pytest.approx(12.0)


def test_a_signature_of_nothing_has_no_ratio() -> None:
    statistic, size = likelihood_ratios(
        np.array([1.0]), covariance=np.eye(1), signatures=np.zeros((1, 1))
    )
    assert (statistic[0], size[0]) == (0.0, 0.0)
