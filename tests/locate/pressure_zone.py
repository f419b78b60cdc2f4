"""A leak in a zone drawn at random, its readings without or with noise, and what is told of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from district.hydraulics import solve
from district.hydraulics.water import Calibrated
from district.locate.spots import Heard, Sought
from tests.hydraulics.known_zone import KnownZone, known_zone

DAYS = pd.date_range("2031-05-01", periods=20, freq="D")
START = 10


@dataclass(frozen=True, eq=False)
class LeakingZone:
    """`known` zone with a leak of `flow_l_s` at `node` from day `START`."""

    known: KnownZone
    heard: Heard
    sought: Sought
    node: int


def leaking_zone(seed: int, *, flow_l_s: float = 1.0, noise_m: float = 0.02) -> LeakingZone:
    """The model told is the true one; what each connection draws is as its share says."""
    known = known_zone(seed, loggers=5)
    rng = np.random.default_rng(seed)
    drawn, cell = known.drawn, len(known.demands.cell_id) - 1
    node = int(rng.choice(np.flatnonzero(np.isnan(drawn.model.fixed_head_m))))
    use = known.demands.use.toarray()[cell]
    course = 4.0 + 3.0 * np.sin((np.arange(24) - 8) / 24 * 2 * np.pi)
    rows, flows, heads = [], [], []
    for n, day in enumerate(DAYS):
        for hour in range(0, 24):
            drew = course[hour] * (1 + 0.02 * rng.standard_normal())
            leak = flow_l_s if n >= START else 0.0
            demand = drew * use
            demand[node] += leak
            rows.append((day, hour))
            flows.append(drew + leak)
            heads.append(drawn.watch @ solve(drawn.model, demand).head_m)
    head = np.array(heads) + noise_m * rng.standard_normal((len(rows), len(drawn.logger_id)))
    hours = pd.DataFrame(rows, columns=["day", "hour"])
    rest = np.zeros((len(rows), len(known.demands.cell_id)))
    rest[:, cell] = flows
    demands = type(known.demands)(
        hours=hours,
        cell_id=known.demands.cell_id,
        rest_l_s=rest,
        measured_l_s=np.zeros((len(rows), use.size)),
        use=known.demands.use,
        leakage=known.demands.leakage,
        leakage_l_s=np.zeros(len(known.demands.cell_id)),
        use_spread_share=known.demands.use_spread_share,
    )
    pressures = pd.concat(
        hours.assign(device_id=name, pressure_m=head[:, g])
        for g, name in enumerate(drawn.logger_id)
    )
    count = len(drawn.logger_id)
    calibrated = Calibrated(
        drawn, drawn.model.roughness[None], np.zeros(count), pd.DataFrame(), pd.DataFrame(),
        np.ones(count, dtype=bool),
    )  # fmt: skip
    sought = Sought(
        "E1", str(known.demands.cell_id[cell]), "leak", flow_l_s, 0.9 * flow_l_s, 1.1 * flow_l_s,
        *(DAYS[START].date(),) * 3,
    )  # fmt: skip
    return LeakingZone(known, Heard(calibrated, demands, pressures), sought, node)


def on(day: int) -> date:
    """Local date of a day of the record."""
    return DAYS[day].date()
