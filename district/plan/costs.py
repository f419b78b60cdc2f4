"""What a break of each main costs, and what renewing it costs: table PIPE_COSTS."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd

from district.estimates import Array, Estimate, product, scaled, total, within
from district.network import Network
from district.plan.above import above_pipes, dearest_first
from district.plan.break_water import break_water, hidden_leaks, zone_pressures
from district.plan.cost_basis import cost_basis
from district.plan.outage import dry_users
from district.plan.parts import parts_of
from district.renew_settings import Surface
from district.results import Basis, Isolation
from district.schema.inputs import PIPES
from district.schema.renewal_tables import PIPE_COSTS
from district.settings import Settings
from district.words import spelled

_BORE_MM = 100.0


@dataclass(frozen=True, eq=False)
class PipeCosts:
    """Table PIPE_COSTS, and what it rests on."""

    table: pd.DataFrame
    basis: Basis = field(default_factory=Basis)


def pipe_costs(
    pipes: gpd.GeoDataFrame,
    network: Network,
    isolation: Isolation,
    likelihood: pd.DataFrame,
    zone_pressure: pd.DataFrame,
    streets: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame,
    *,
    settings: Settings,
) -> PipeCosts:
    """What a break of each main in use costs, and its renewal, in order of pipe_id.

    Parameters: `pipes`, `streets` and `surfaces` tables PIPES, STREETS and SURFACES; `network`
    built of these pipes; of `isolation` tables SEGMENT_PIPES and SEGMENT_LOSSES; `likelihood`
    table LIKELIHOOD and `zone_pressure` table ZONE_PRESSURE. Each but the pipes may be without
    rows: what is then left out is said in the basis. Money is the district's.

    Water, repair and outage of a break rest on assumptions of their own: their limits join by
    squares. Nothing is written to.
    """
    used = pipes[pipes["status"] == "in_use"].drop_duplicates("pipe_id").sort_values("pipe_id")
    mains = used.reset_index(drop=True)
    renew = settings.renew
    parts = parts_of(mains["pipe_id"], network)
    dry = dry_users(parts, isolation)
    rows = above_pipes(mains, streets, surfaces, settings=settings)
    under = _under(rows, mains["pipe_id"], settings)

    water = break_water(zone_pressures(parts, zone_pressure, settings=settings))
    hidden = hidden_leaks(parts, likelihood, zone_pressure)
    worth = settings.costs.water_currency_m3
    water_currency = scaled(water, worth)

    bores = mains["diameter_mm"].fillna(PIPES["diameter_mm"].default).to_numpy(float) / _BORE_MM
    repair = renew.repair_currency + renew.repair_bore_currency * bores
    repair = repair * (1 + under.of(lambda s: s.repair_share)) + under.of(
        lambda s: s.damage_currency
    )
    a_metre = renew.renewal_currency_m + renew.renewal_bore_currency_m * bores
    renewal = a_metre * mains["length_m"].to_numpy(dtype=float)
    renewal = renewal * (1 + under.of(lambda s: s.renewal_share))
    repair_currency = within(repair, spread_share=renew.cost_spread_share)
    outage = _outage(dry.people_count, dry.critical_count, settings)
    figures = {
        "dry_people_count": dry.people_count,
        "break_water_m3": water,
        "water_currency": water_currency,
        "repair_currency": repair_currency,
        "outage_currency": outage,
        "break_currency": total(water_currency, repair_currency, outage),
        "hidden_leak_m3_d": hidden,
        "hidden_currency": scaled(hidden, renew.hidden_run_d * worth),
        "renewal_currency": within(renewal, spread_share=renew.cost_spread_share),
    }
    table = mains[["pipe_id"]].assign(
        segments=dry.segments,
        dry_properties_count=dry.properties_count,
        dry_critical_count=dry.critical_count,
        above=under.words,
        above_share=under.share,
    )
    table = pd.DataFrame(table).assign(
        **{name: x for key, one in figures.items() for name, x in one.columns(key).items()}
    )
    return PipeCosts(
        table[list(PIPE_COSTS.names())],
        cost_basis(
            mains, parts, dry, likelihood, zone_pressure, streets, surfaces, settings=settings
        ),
    )


@dataclass(frozen=True, eq=False)
class _Under:
    """What lies above the mains: shares of their length by kind, (mains, kinds)."""

    shares: Array
    kinds: tuple[Surface, ...]
    words: list[str]

    @property
    def share(self) -> Array:
        return np.asarray(np.minimum(self.shares.sum(axis=1), 1.0))

    def of(self, figure: Callable[[Surface], float]) -> Array:
        """A figure of the surfaces, mean over the length of each main."""
        return np.asarray(self.shares @ np.array([figure(kind) for kind in self.kinds]))


def _under(rows: pd.DataFrame, pipe_ids: pd.Series[Any], settings: Settings) -> _Under:
    kinds = dearest_first(settings)
    wide = rows.pivot(index="pipe_id", columns="kind", values="above_share")
    wide = wide.reindex(index=pipe_ids, columns=list(kinds)).fillna(0.0)
    shares = wide.to_numpy(dtype=float)
    spoken = np.array([spelled(kind) for kind in kinds], dtype=object)
    words = [", ".join(spoken[row > 0]) for row in shares]
    return _Under(shares, tuple(settings.surfaces[kind] for kind in kinds), words)


def _outage(people: Estimate, critical: Array, settings: Settings) -> Estimate:
    """What it counts that people and critical users are without water, by one assumption."""
    renew = settings.renew
    an_hour = within(
        np.full(len(critical), renew.outage_person_currency_h),
        spread_share=renew.outage_spread_share,
    )
    of_people = product(scaled(people, renew.outage_h), an_hour)
    of_critical = within(critical * renew.critical_currency, spread_share=renew.outage_spread_share)
    value = of_people.value + of_critical.value
    # What an outage counts is one assumption for both: these limits add.
    low, high = of_people.low + of_critical.low, of_people.high + of_critical.high
    return Estimate(value, low, high)
