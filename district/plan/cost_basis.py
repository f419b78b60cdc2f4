"""What the costs of breaks rest on, said in sentences."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd

from district.break_rates import AT_PRESSURE_M, MAINS_BURSTS
from district.plan.break_water import RUN_TIMES_D, WATER_SPREAD_SHARE, burst_water_m3
from district.plan.outage import Dry
from district.plan.parts import Parts
from district.results import Basis
from district.settings import Settings
from district.words import brief, percent, places, whole

_WORTH_SAYING = 0.005


def cost_basis(
    mains: gpd.GeoDataFrame,
    parts: Parts,
    dry: Dry,
    likelihood: pd.DataFrame,
    zone_pressure: pd.DataFrame,
    streets: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame,
    *,
    settings: Settings,
) -> Basis:
    """Assumptions of table PIPE_COSTS, and what limits it; parameters as `costs.pipe_costs` has
    them, `mains` the rows of that table."""
    renew, money = settings.renew, settings.district.currency

    def currency(value: float) -> str:
        # As it was set, every digit of it.
        return f"{money}\u00a0{whole(value) if value == int(value) else f'{value:.10g}'}"

    (_, reported), (_, unreported) = MAINS_BURSTS
    assumptions = [
        f"A break of a main lets out {brief(reported)} m³/h for {brief(RUN_TIMES_D[0])} days if it "
        f"is reported, {brief(unreported)} m³/h for {brief(RUN_TIMES_D[1])} days if a survey has "
        f"to find it (at {brief(AT_PRESSURE_M)} m; Lambert et al. 1999, from memory): "
        f"{brief(float(burst_water_m3(AT_PRESSURE_M)))} m³ in the mean, whatever the bore, in "
        "proportion to the pressure of its zone. Assumed, without a source: the mean may lie "
        f"{percent(WATER_SPREAD_SHARE)} from that.",
        f"Water counts {currency(settings.costs.water_currency_m3)} a cubic metre.",
        "Assumed, without a source, set under [renew] and [surfaces]: a repair costs "
        f"{currency(renew.repair_currency)} and {currency(renew.repair_bore_currency)} for each "
        f"100 mm of bore, renewal {currency(renew.renewal_currency_m)} a metre and "
        f"{currency(renew.renewal_bore_currency_m)} for each 100 mm, more under roads, railways "
        f"and buildings; all this may lie {percent(renew.cost_spread_share)} from that.",
        f"Assumed, without a source: an outage of {brief(renew.outage_h)} h, an hour of which "
        f"counts {currency(renew.outage_person_currency_h)} for each person, and "
        f"{currency(renew.critical_currency)} for each critical user; that may lie "
        f"{percent(renew.outage_spread_share)} from that. A break shuts the valves of its segment "
        "as the map has them, and is as likely on each metre of a main.",
        "Leakage looked for counts by the share of its zone's flow that is likely on a main and on "
        "its connections, as the search for leaks has it. Assumed, without a source: it would run "
        f"on {brief(renew.hidden_run_d)} days until it is found, and renewing the main with its "
        "connections ends it.",
    ]
    return Basis(
        assumptions=tuple(assumptions),
        limits=tuple(_limits(mains, parts, dry, likelihood, zone_pressure, streets, surfaces)),
    )


def _limits(
    mains: gpd.GeoDataFrame,
    parts: Parts,
    dry: Dry,
    likelihood: pd.DataFrame,
    zone_pressure: pd.DataFrame,
    streets: gpd.GeoDataFrame,
    surfaces: gpd.GeoDataFrame,
) -> list[str]:
    names = mains["pipe_id"].to_numpy()
    said = []
    if not dry.told.any():
        said.append("Who would be without water is not known: nobody is counted.")
    elif not dry.told.all():
        lost = places("main", names[~dry.told])
        said.append(f"Who would be without water is not known for {lost}: nobody is counted there.")
    elif len(mains) > 1 and len(set(dry.segments)) == 1:
        said.append(
            "No valve of the map parts the mains: every break leaves all of them without water."
        )
    if parts.copies.any():
        copied = places("main", names[parts.copies])
        said.append(f"Drawn twice, and counted without hidden leakage: {copied}.")
    if likelihood.empty:
        said.append("No search for leaks was made: no hidden leakage counts.")
    told = zone_pressure.loc[zone_pressure["rests_on"] != "assumed", "cell_id"]
    guessed = ~np.isin(parts.table["cell_id"].to_numpy(dtype=object), told.to_numpy(dtype=object))
    if guessed.any():
        length = mains["length_m"].to_numpy(dtype=float)[parts.main] * parts.share()
        share = float(length[guessed].sum() / max(length.sum(), 1e-9))
        if share >= _WORTH_SAYING:
            said.append(
                f"The pressure is assumed for {percent(share, decimals=0)} of the length of the "
                "mains."
            )
    if surfaces.empty and streets.empty:
        said.append(
            "Neither layer surfaces nor layer streets is there: a break under a main road, a "
            "railway or a building counts as any other."
        )
    elif surfaces.empty:
        said.append(
            "Layer surfaces is not there: only the kinds of the streets tell what lies above."
        )
    return said
