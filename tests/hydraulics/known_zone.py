"""A zone drawn at random with a known truth, and what its meters and loggers would read."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.sparse import csr_array

from district.hydraulics.model import Model, Reals
from district.hydraulics.steady import solve
from district.hydraulics.update import ALL_SPREAD, GROUP_SPREAD, PIPE_SPREAD
from district.hydraulics.water import Demands, Drawn

GROUPS = ("cast iron, laid before 1940", "PVC", "ductile iron, laid 1970 to 1999", "polyethylene")
_C = (80.0, 145.0, 130.0, 140.0)
_COURSE = (
    1.0
    + 0.6 * np.sin((np.arange(24) - 8) / 24 * 2 * np.pi)
    + 0.3 * np.sin(np.arange(24) / 24 * 4 * np.pi)
)


@dataclass(frozen=True, eq=False)
class KnownZone:
    """What is told of the zone, what is read there, and the truth."""

    drawn: Drawn
    demands: Demands
    pressures: pd.DataFrame
    true_model: Model
    offset_m: Reals


def known_zone(
    seed: int,
    *,
    across: int = 7,
    loggers: int = 8,
    use_l_s: float = 6.0,
    noise_m: float = 0.1,
    spread_share: float = 0.8,
) -> KnownZone:
    """`across` x `across` street corners fed at one; roughness, offsets and use drawn from the
    spreads that the fit assumes."""
    rng = np.random.default_rng(seed)
    count = across * across + 1
    rows = [(n, n + 1) for n in range(count - 1) if (n + 1) % across]
    columns = [(n, n + across) for n in range(count - 1 - across)
               if n % across == 0 or rng.random() < 0.4]  # fmt: skip
    ends = np.array([(count - 1, 0), *rows, *columns])
    links = len(ends)
    group = rng.integers(0, len(GROUPS), links)
    group[: links // 3] = np.arange(links // 3) % len(GROUPS)
    ground = rng.uniform(10.0, 30.0, count)
    fixed = np.full(count, np.nan)
    fixed[-1] = 80.0
    trunk = np.minimum(ends.max(axis=1), 3 * across) < across
    model = Model(
        node_id=np.array([f"N{n}" for n in range(count)], dtype=object),
        elevation_m=ground,
        fixed_head_m=fixed,
        link_id=np.array([f"P{n}" for n in range(links)], dtype=object),
        start=ends[:, 0],
        end=ends[:, 1],
        kind=np.zeros(links, dtype=np.int64),
        length_m=rng.uniform(60.0, 200.0, links),
        diameter_mm=np.where(trunk, 150.0, 100.0),
        roughness=np.array(_C)[group],
        minor_k=np.zeros(links),
        is_open=np.ones(links, dtype=bool),
        setting_m=np.full(links, np.nan),
        pump=np.full((links, 3), np.nan),
    )
    off = (
        GROUP_SPREAD * rng.standard_normal(len(GROUPS))[group]
        + ALL_SPREAD * rng.standard_normal()
        + PIPE_SPREAD * rng.standard_normal(links)
    )
    true_model = replace(model, roughness=model.roughness * np.exp(off))
    told = np.zeros(count)
    told[:-1] = 1.0 / (count - 1)
    true = told * np.clip(1 + spread_share / 1.96 * rng.standard_normal(count), 0.0, None)
    true /= true.sum()
    place = np.sort(rng.choice(count - 1, loggers, replace=False))
    offset = 0.7 * rng.standard_normal(loggers)
    days = pd.date_range("2025-03-01", periods=2)
    hours = pd.DataFrame({"day": np.repeat(days, 24), "hour": np.tile(np.arange(24), 2)})
    rest = use_l_s * _COURSE[hours["hour"]] * rng.normal(1.0, 0.05, 48)
    wander = 0.05 * rng.standard_normal(48)
    head = np.empty((48, loggers))
    state = None
    for t in range(48):
        state = solve(true_model, rest[t] * true, start=state)
        head[t] = state.head_m[place] + wander[t]
    read = head - ground[place] + offset + noise_m * rng.standard_normal(head.shape)
    names = np.array([f"L{n}" for n in range(loggers)], dtype=object)
    pressures = pd.DataFrame(
        {
            "device_id": np.tile(names, 48),
            "day": np.repeat(hours["day"].to_numpy(), loggers),
            "hour": np.repeat(hours["hour"].to_numpy(), loggers),
            "pressure_m": read.ravel(),
        }
    )
    spread = csr_array(told[None, :])
    return KnownZone(
        drawn=Drawn(
            model=model,
            pipe_link=np.arange(links),
            node_cell=np.full(count, "Z", dtype=object),
            tap=csr_array(np.eye(count)[:-1]),
            logger_id=names,
            watch=csr_array(
                (np.ones(loggers), (np.arange(loggers), place)), shape=(loggers, count)
            ),
            logger_level_m=ground[place],
            group=np.array(GROUPS, dtype=object)[group],
        ),
        demands=Demands(
            hours=hours,
            cell_id=np.array(["Z"], dtype=object),
            rest_l_s=rest[:, None],
            measured_l_s=np.zeros((48, count)),
            use=spread,
            leakage=spread,
            leakage_l_s=np.zeros(1),
            use_spread_share=np.array([spread_share]),
        ),
        pressures=pressures,
        true_model=true_model,
        offset_m=offset,
    )
