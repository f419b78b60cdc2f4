"""In which order to shut the valves, which may be let alone, and which do not close."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from district.errors import Finding, InputError
from district.hydraulics.model import Wholes
from district.isolate.graph import Closure
from district.isolate.piping import Piping
from district.network import Network
from district.schema.isolate_tables import PLAN_VALVES
from district.words import closest, listed, natural, natural_key


@dataclass(frozen=True)
class Stuck:
    """Valves that do not close, and the gates that cannot be shut with them."""

    not_turning: frozenset[str] = frozenset()
    failed: frozenset[int] = frozenset()


def stuck_gates(network: Network, piping: Piping, valve_ids: Iterable[str]) -> Stuck:
    """The gates at which no valve is left to shut. Raises `InputError` for an unknown id."""
    names = frozenset(str(v) for v in valve_ids)
    if not names:
        return Stuck()
    known = {str(v) for v in network.valves.index}
    if unknown := natural(names - known):
        raise InputError(
            Finding(
                "error",
                "valves",
                f"valve {name}",
                "valve_id",
                got=f'"{name}"{closest(name, known)}',
                expected="the id of a valve on the map",
                remedy="Correct the id",
            )
            for name in unknown
        )
    sides = zip(piping.gate_valves, piping.gate_shut, strict=True)
    failed = {
        gate
        for gate, (turned, shut) in enumerate(sides)
        if (here := {*turned, *shut}) & names and not here - names
    }
    return Stuck(names, frozenset(failed))


def valve_of(piping: Piping, gate: int, not_turning: Collection[str]) -> tuple[str, list[str]]:
    """The valve to turn at a gate, and those at the same place."""
    able = [v for v in piping.gate_valves[gate] if v not in not_turning]
    return (able[0], able[1:]) if able else ("", [])


def in_order(
    network: Network, piping: Piping, gates: Wholes, not_turning: Collection[str]
) -> list[int]:
    """Gates in the order to shut them; see `plan.plan_shut_off`."""
    numbers = [int(g) for g in gates]
    names = [valve_of(piping, g, not_turning)[0] for g in numbers]
    facts = _facts(network, names)
    automatic = (facts["kind"] == "automatic_shutoff").tolist()
    bore = facts["diameter_mm"].fillna(0.0).tolist()
    keys = [
        (not own, -wide, natural_key(name))
        for own, wide, name in zip(automatic, bore, names, strict=True)
    ]
    return [numbers[i] for i in sorted(range(len(numbers)), key=keys.__getitem__)]


def valve_rows(
    network: Network,
    piping: Piping,
    made: Closure,
    order: list[int],
    not_turning: Collection[str],
) -> pd.DataFrame:
    """Table PLAN_VALVES: those to shut in `order`, those that must stay shut, the rest."""
    rows: list[tuple[str, str, int | None, str, str]] = []
    for rank, gate in enumerate(order, start=1):
        name, beside = valve_of(piping, gate, not_turning)
        said = f"Shut {name}: water reaches the stretch through it."
        if beside:
            said += f" {listed(beside)} at the same place would do as well."
        rows.append((name, "shut", rank, ", ".join(beside), said))
    for gate in made.already_shut:
        for name in piping.gate_shut[gate]:
            said = f"{name} stands shut on the map: check that it is, and keep it so."
            rows.append((name, "keep_shut", None, "", said))
    for gate in made.may_stay_open:
        name, beside = valve_of(piping, int(gate), not_turning)
        if name:
            said = f"{name} may stay open: both its sides are without water anyway."
            rows.append((name, "may_stay_open", None, ", ".join(beside), said))
    told = ["valve_id", "action", "rank", "beside", "said"]
    table = pd.DataFrame(rows, columns=told).astype({"rank": "Int64"})
    facts = _facts(network, table["valve_id"].tolist())
    return pd.concat([table, facts], axis=1)[list(PLAN_VALVES.names())]


def _facts(network: Network, names: list[str]) -> pd.DataFrame:
    """kind, pipe_id, cell_id and diameter_mm (of the pipe it stands on) of each valve."""
    columns = ["kind", "pipe_id", "cell_id"]
    row = network.valves.index.get_indexer(names)
    facts = pd.DataFrame(network.valves[columns].iloc[row]).reset_index(drop=True)
    pipe = network.pipes.index.get_indexer(facts["pipe_id"].astype(str))
    bore = np.append(network.pipes["diameter_mm"].to_numpy(dtype=float), np.nan)
    return facts.assign(diameter_mm=bore[pipe])
