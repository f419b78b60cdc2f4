"""The solver answers and does not print."""

from __future__ import annotations

import ctypes
import os
from typing import Any

import numpy as np
import pytest
from scipy.optimize import OptimizeResult

from district.plan import solver
from district.plan.solver import solved


def knapsack() -> Any:
    """Worth 10, 13 and 7 at a weight of 3, 4 and 2, of which 6 may be carried: the last two."""
    return solved(
        np.array([10.0, 13.0, 7.0]),
        np.array([[3.0, 4.0, 2.0]]),
        np.array([6.0]),
        np.zeros(3),
        np.ones(3),
        np.ones(3),
        {"mip_rel_gap": 0.0},
    )


def test_it_finds_the_most() -> None:
    found = knapsack()
    assert np.round(found.x).tolist() == [0.0, 1.0, 1.0]
    assert -found.fun == pytest.approx(20.0)
    assert -found.mip_dual_bound == pytest.approx(20.0)


def _loud(*_: Any, **__: Any) -> OptimizeResult:
    library = ctypes.CDLL(solver._C_LIBRARY)
    for _line in range(5000):
        library.puts(b"a line of the solver's own")
    return OptimizeResult(x=np.zeros(3))


def test_what_the_solver_prints_is_dropped_and_nothing_else(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(solver, "milp", _loud)
    ctypes.CDLL(solver._C_LIBRARY).puts(b"before")
    assert knapsack().x.tolist() == [0.0, 0.0, 0.0]
    print("after", flush=True)
    solver._flush()
    assert capfd.readouterr().out.split() == ["before", "after"]


def test_where_the_solver_fails_what_is_printed_is_heard_again(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_: Any, **__: Any) -> None:
        raise ValueError("no such thing")

    monkeypatch.setattr(solver, "milp", failing)
    with pytest.raises(ValueError, match="no such thing"):
        knapsack()
    print("after", flush=True)
    assert capfd.readouterr().out == "after\n"


def test_without_anywhere_to_print_to_it_answers_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def closed(_: int) -> int:
        raise OSError("closed")

    monkeypatch.setattr(os, "dup", closed)
    assert np.round(knapsack().x).tolist() == [0.0, 1.0, 1.0]
