"""In which order to shut the valves, which may be let alone, and which do not close."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from district.errors import Finding, InputError
from district.hydraulics.model import Wholes
from district.isolate.graph import Closure
from district.isolate.piping import Piping
from district.network import Network
from district.words import closest, listed, missing, natural, natural_key


@dataclass(frozen=True)
class Stuck:
    """Valves that do not close, and the gates that cannot be shut with them."""

    not_turning: frozenset[str] = frozenset()
    failed: frozenset[int] = frozenset()


def stuck_gates(network: Network, piping: Piping, valve_ids: Iterable[str]) -> Stuck:
    """The gates at which no valve is left to shut. Raises `InputError` for an unknown id."""
    names = frozenset(str(v) for v in valve_ids)
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
    failed = set()
    if names:
        sides = zip(piping.gate_valves, piping.gate_shut, strict=True)
        for gate, (turned, shut) in enumerate(sides):
            here = {*turned, *shut}
            if here & names and not here - names:
                failed.add(gate)
    return Stuck(names, frozenset(failed))


def valve_of(piping: Piping, gate: int, not_turning: Collection[str]) -> tuple[str, list[str]]:
    """The valve to turn at a gate, and those at the same place."""
    able = [v for v in piping.gate_valves[gate] if v not in not_turning]
    return (able[0], able[1:]) if able else ("", [])


def in_order(
    network: Network, piping: Piping, gates: Wholes, not_turning: Collection[str]
) -> list[int]:
    """Gates in the order to shut them; see `plan.plan_shut_off`."""

    def key(gate: int) -> Any:
        name, _ = valve_of(piping, gate, not_turning)
        bore = _bore_mm(network, name)
        automatic = bool(name) and network.valves.at[name, "kind"] == "automatic_shutoff"
        return (not automatic, -np.nan_to_num(bore, nan=0.0), natural_key(name))

    return sorted((int(g) for g in gates), key=key)


def valve_rows(
    network: Network,
    piping: Piping,
    made: Closure,
    order: list[int],
    not_turning: Collection[str],
) -> list[dict[str, Any]]:
    """Rows of table PLAN_VALVES: those to shut in `order`, those that must stay shut, the rest."""
    rows = []
    for rank, gate in enumerate(order, start=1):
        name, beside = valve_of(piping, gate, not_turning)
        said = f"Shut {name}: water reaches the stretch through it."
        if beside:
            said += f" {listed(beside)} at the same place would do as well."
        rows.append(_row(network, name, "shut", rank, beside, said))
    for gate in made.already_shut:
        for name in piping.gate_shut[gate]:
            said = f"{name} stands shut on the map: check that it is, and keep it so."
            rows.append(_row(network, name, "keep_shut", None, (), said))
    for gate in made.may_stay_open:
        name, beside = valve_of(piping, int(gate), not_turning)
        if name:
            said = f"{name} may stay open: both its sides are without water anyway."
            rows.append(_row(network, name, "may_stay_open", None, beside, said))
    return rows


def _row(
    network: Network,
    name: str,
    action: str,
    rank: int | None,
    beside: Iterable[str],
    said: str,
) -> dict[str, Any]:
    valve = network.valves.loc[name]
    return {
        "valve_id": name,
        "action": action,
        "rank": rank,
        "kind": valve["kind"],
        "diameter_mm": _bore_mm(network, name),
        "pipe_id": valve["pipe_id"],
        "cell_id": valve["cell_id"],
        "beside": ", ".join(beside),
        "said": said,
    }


def _bore_mm(network: Network, valve_id: str) -> float:
    pipe_id = network.valves.at[valve_id, "pipe_id"] if valve_id else ""
    if missing(pipe_id) or pipe_id not in network.pipes.index:
        return float("nan")
    return float(network.pipes.at[pipe_id, "diameter_mm"])
