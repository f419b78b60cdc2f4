"""Reconciliation by weighted least squares, and the tests that go with it.

Readings y = x + error, errors with covariance V, and true flows that obey A x = 0. The estimate
x = y - V A'(A V A')^-1 A y is the one of least variance (Kuehn & Davidson 1961, Chem Eng Prog 57,
from memory). With residual r = A y and H = A V A':

- global test r'H^-1 r, chi-square with as many degrees as there are equations (Reilly & Carpani
  1963; Almasy & Sztano 1975; both from memory);
- test of each adjustment over its own deviation (Mah & Tamhane 1982, AIChE J 28(5), from memory);
- generalized likelihood ratio of a gross error with signature f, (f'H^-1 r)^2 / (f'H^-1 f), which
  compares a bias in a meter with a leak at a node (Narasimhan & Mah 1987, AIChE J 33(9), from
  memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import chdtri

from district.estimates import Array


@dataclass(frozen=True, eq=False)
class Reconciled:
    """Estimates of the readings that obey the equations.

    `values` and `deviation` in the unit of the readings; `adjusted_index` each adjustment over
    its own standard deviation, 0 where the equations cannot check the reading; `statistic_index`
    of the global test and its `critical_index` at 5 %.
    """

    values: Array
    deviation: Array
    adjusted_index: Array
    statistic_index: float
    critical_index: float


def reconcile(measured: Array, *, covariance: Any, equations: Any) -> Reconciled:
    """Adjust readings (n) of `covariance` (n x n) as little as lets them obey `equations` (m x n).

    Raises `numpy.linalg.LinAlgError` where two equations say the same.
    """
    a = np.asarray(equations, dtype=float)
    v = np.asarray(covariance, dtype=float)
    gain = v @ a.T
    spread = a @ gain
    residual = a @ measured
    adjustment = gain @ np.linalg.solve(spread, residual)
    removed = np.einsum("ij,ji->i", gain, np.linalg.solve(spread, gain.T))
    left = np.maximum(np.diag(v) - removed, 0.0)
    checked = removed > 1e-9 * np.maximum(np.diag(v), 1e-300)
    index = np.where(checked, adjustment / np.sqrt(np.where(checked, removed, 1.0)), 0.0)
    statistic = float(residual @ np.linalg.solve(spread, residual))
    critical = float(chdtri(len(residual), 0.05))
    return Reconciled(measured - adjustment, np.sqrt(left), index, statistic, critical)


def likelihood_ratios(residual: Array, *, covariance: Any, signatures: Any) -> tuple[Array, Array]:
    """T and the size of each gross error, for `signatures` (equations x hypotheses) of size one.

    T is chi-square with one degree where there is no gross error; 0 where a signature is nothing.
    """
    f = np.asarray(signatures, dtype=float)
    solved = np.linalg.solve(covariance, np.column_stack([residual, f]))
    towards, weight = f.T @ solved[:, 0], np.einsum("ij,ij->j", f, solved[:, 1:])
    there = weight > 1e-12
    safe = np.where(there, weight, 1.0)
    return np.where(there, towards**2 / safe, 0.0), np.where(there, towards / safe, 0.0)
