"""How the inflow is read during a step test, and what its plan rests on, in sentences."""

from __future__ import annotations

from district.isolate.step_order import Night
from district.isolate.step_split import Split
from district.network import Network
from district.words import brief, listed, natural, plural


def reading(
    network: Network, cell_id: str, counted_l: float, limit_l_s: float, night: Night
) -> list[str]:
    """Which meters to read together, and how well that is known."""
    bounds = network.boundaries
    into = natural(bounds.loc[bounds["downstream_cell_id"] == cell_id, "meter_id"])
    out = natural(bounds.loc[bounds["upstream_cell_id"] == cell_id, "meter_id"])
    said = []
    if into:
        less = f", less what leaves through {listed(out, shown=len(out))}" if out else ""
        more = " together, all read at the same moment" if len(into) + len(out) > 1 else ""
        said.append(f"Inflow: by {listed(into, shown=len(into))}{less}{more}.")
    minutes = brief(night.step_s / 60)
    if counted_l:
        said.append(
            f"The meter counts in steps of {brief(counted_l)} L: with that and an error of 2 % a "
            f"flow read over {minutes} minutes is good to {brief(limit_l_s)} L/s. Where that is "
            "too coarse, read a finer dial or pulse by hand."
        )
    return said


def assumed(best: Split, night: Night, steps_count: int) -> tuple[str, ...]:
    """What the plan takes for granted, one sentence each."""
    fewer = int(best.parting.part.max())
    said = [
        f"Assumed: a step takes {brief(night.step_s / 60)} minutes until its flow has settled and "
        f"is read, any other valve {brief(night.turn_s / 60)} minutes to shut or to open.",
        "Use of a section is the allowance of its properties, its background leakage goes by "
        "components, both brought to the night flow of the zone where that is known. Pressure "
        "that rises in what stays open lets later steps look smaller, by up to a tenth of the flow "
        "left (assumption).",
        "It rests on the map: a valve that stands otherwise than drawn or does not close, or a "
        "pipe that is not on it, spoils the step. Watch the pressure at the highest point and the "
        "far end of what stays open.",
    ]
    if fewer < steps_count:
        said.insert(
            0,
            f"{plural(fewer, 'step')} of {steps_count}: more would not shorten the search, or need "
            f"more valves than the night from {night.begins:%H:%M} to {night.ends:%H:%M} leaves "
            "time for.",
        )
    if not best.proven and best.parting.extra_count() >= night.most_extra_count(steps_count) > 0:
        said.insert(
            0,
            "The night leaves no time for more valves in preparation; those that are shut on an "
            "evening before, once fire supply is settled, would allow a better plan.",
        )
    return tuple(said)
