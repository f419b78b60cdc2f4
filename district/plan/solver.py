"""SciPy's integer programming, kept from printing.

HiGHS as SciPy 1.17 brings it prints a line of its own where it mends a solution it has rounded,
past Python and whatever it is told of printing. It would stand in the midst of what people or
machines read, so that what the process prints is led aside while it solves.
"""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from scipy.optimize import Bounds, LinearConstraint, milp

_STDOUT = 1
_C_LIBRARY = None if os.name == "posix" else "ucrtbase"


def solved(
    worth: Any, rows: Any, most: Any, low: Any, high: Any, whole: Any, options: dict[str, Any]
) -> Any:
    """The x within `low` and `high`, whole numbers where `whole` is 1, of which rows x is at most
    `most` and worth x the most. Parameters as of `scipy.optimize.milp`; so is what is returned,
    with `fun` and `mip_dual_bound` of the sign of a minimum."""
    with _unheard():
        return milp(
            -worth,
            constraints=LinearConstraint(rows, -float("inf"), most),
            bounds=Bounds(low, high),
            integrality=whole,
            options=options,
        )


@contextmanager
def _unheard() -> Iterator[None]:
    """What C code prints meanwhile is dropped; where there is nothing to print to, nothing is
    done."""
    try:
        kept = os.dup(_STDOUT)
    except OSError:
        yield
        return
    away, into = os.pipe()
    # Nobody reads it: once it is full, what more comes is dropped, not waited for.
    os.set_blocking(into, False)
    _flush()
    os.dup2(into, _STDOUT)
    try:
        yield
    finally:
        _flush()
        os.dup2(kept, _STDOUT)
        for end in (kept, away, into):
            os.close(end)


def _flush() -> None:
    """What C code has printed so far goes where it was meant to."""
    ctypes.CDLL(_C_LIBRARY).fflush(None)
