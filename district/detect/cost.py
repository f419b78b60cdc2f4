"""How long an event has run, its size and growth, and the volume and money it took, with limits."""

from __future__ import annotations

import numpy as np

from district.detect.baseline import Reals
from district.detect.places import Place
from district.detect.runs import Run

_Z = 1.959964  # 97.5 % quantile of the normal distribution


def measures(
    place: Place, run: Run, *, last: int, water_currency_m3: float, lost: bool
) -> dict[str, float]:
    """The estimated columns of EVENTS for one run; `last` its last night or the latest known.

    The size carries the error of the means and of the meters; the volume that of the size, of the
    night-to-day factor (24 h where there is none), and of the start: the days from its earliest
    to its latest likely night, whether it stepped or grew. Where no water was lost (`lost` false)
    volume and cost are NaN.
    """
    size = float(run.flow_l_s[last])
    half = float(np.hypot(_Z * run.error_l_s, size * place.error_share))
    found = _limits("size_l_s", size, max(0.0, size - half), size + half)
    earliest, latest = run.likely_start()
    nights = last - np.array([run.position, latest, earliest]) + 1.0
    found |= _limits("run_d", *(float(n) for n in np.maximum(nights, 1.0)))
    growth = run.growth_l_s_d
    rising = size / growth if growth > 0 else 0.0
    slack = _Z * run.error_l_s / rising if rising > 0 else 0.0
    slack = float(np.hypot(slack, growth * place.error_share))
    found |= _limits("growth_l_s_d", growth, max(0.0, growth - slack), growth + slack)
    if not lost:
        nothing = (float("nan"),) * 3
        return found | _limits("volume_m3", *nothing) | _limits("cost_currency", *nothing)
    daily = run.flow_l_s * place.m3_per_l_s
    volume = float(daily[run.position : last + 1].sum())
    by_size = volume * float(np.hypot(half / size, place.factor_share)) if size > 0 else 0.0
    earlier, later = _of_start_m3(run, daily, size, place, last)
    low = max(0.0, volume - float(np.hypot(by_size, later)))
    high = volume + float(np.hypot(by_size, earlier))
    found |= _limits("volume_m3", volume, low, high)
    money = (v * water_currency_m3 for v in (volume, low, high))
    return found | _limits("cost_currency", *money)


def _of_start_m3(
    run: Run, daily: Reals, size_l_s: float, place: Place, last: int
) -> tuple[float, float]:
    """How much more it lost if it began on its earliest likely night, and how much less if on its
    latest, m3."""
    earliest, latest = run.likely_start()
    if run.growth_l_s_d > 0:
        # A line to the same last size from another night: half of it for each night between.
        whole = size_l_s * float(np.mean(place.m3_per_l_s[run.position : last + 1]))
        return 0.5 * whole * (run.position - earliest), 0.5 * whole * (latest - run.position)
    # What it lost before it is taken to have stepped it grew to: half of that is a line.
    step_low = min(max(run.low, earliest), run.position)
    before = run.position - step_low + 0.5 * (step_low - earliest)
    return float(daily[run.position]) * before, float(daily[run.position : latest].sum())


def _limits(name: str, value: float, low: float, high: float) -> dict[str, float]:
    return {name: value, f"{name}_low": low, f"{name}_high": high}
