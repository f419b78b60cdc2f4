"""The plan of a step test: which valves to shut one after another by night, and what to expect."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.errors import StageError
from district.hydraulics.model import Reals, Wholes
from district.hydraulics.stepping import Z, read_limit_l_s, section_use, step_l
from district.isolate.segments import Segments
from district.isolate.step_cost import weighed
from district.isolate.step_doubt import doubtful_pipes
from district.isolate.step_order import Night, Turns, actions, turns_of
from district.isolate.step_said import action_sentence, sentences
from district.isolate.step_sections import Sought, section_table, walk_of
from district.isolate.step_split import split
from district.isolate.step_users import dry_h, pipe_table, user_table
from district.isolate.step_words import assumed, reading
from district.isolate.step_zone import ZoneSegments, zone_segments
from district.network import Network
from district.schema.step_tables import STEP_CAUTION, STEP_PLAN
from district.settings import Settings
from district.words import brief, natural


@dataclass(frozen=True, eq=False)
class StepPlan:
    """Tables STEP_PLAN, STEP_PLAN_SECTIONS, STEP_PIPES and STEP_USERS of one zone.

    walk_before_m, walk_after_m
        expected metres of listening before the leak is reached, without and with the test (as if
        its readings told the right section), and their limits.
    proven
        whether no other choice of so many valves leaves less.
    said
        the plan in sentences, for the crew; `caution` has to be shown with them.
    assumed
        what it rests on, one sentence each.
    """

    cell_id: str
    plan: pd.DataFrame
    sections: pd.DataFrame
    pipes: pd.DataFrame
    users: pd.DataFrame
    walk_before_m: tuple[float, float, float]
    walk_after_m: tuple[float, float, float]
    proven: bool
    said: tuple[str, ...]
    assumed: tuple[str, ...]
    caution: str = STEP_CAUTION


def plan_step_test(
    network: Network,
    segments: Segments,
    cell_id: str,
    *,
    probability_share: pd.Series[Any],
    sought: Sought,
    night: Night,
    settings: Settings,
    steps_count: int = 4,
) -> StepPlan:
    """The steps after which least is left to listen to, one valve a step.

    A zone with loops is fed one way first: the other valves around each section are shut in
    preparation, as far as the night leaves time to shut and open them. Each step then cuts off one
    more section, from the far end towards the inlet, and its valve stays shut. Never cut off are
    critical users, the way to another zone, tanks. What is best is told by `step_cost`, and sought
    by `step_split`.

    Parameters: `probability_share` by pipe_id, as in table LIKELIHOOD, for the pipes of the zone.
    Raises `StageError` where the zone has no inlet or valve on the map, or the night is too short
    for one step.
    """
    zone = zone_segments(network, segments, cell_id)
    steps_count, extra = _fitting(night, steps_count, cell_id)
    likely = probability_share.reindex(network.pipes.index).to_numpy(dtype=float)
    by_pipe = pd.Series(zone.pipe, index=network.pipes.index)
    use = sought.beside(section_use(network, by_pipe, zone.count(), settings=settings))
    counted_l = step_l(network, cell_id)
    start = float(use.use_l_s.sum()) + sought.flow_l_s
    limit = float(read_limit_l_s(start, step_l=counted_l, interval_s=night.step_s))
    metres = network.pipes["length_m"].to_numpy(dtype=float)
    weighing = weighed(
        zone.pipe,
        likely,
        metres,
        use,
        flow_l_s=sought.flow_l_s,
        read_sd_l_s=float(np.sqrt(2.0)) * limit / Z,
    )
    best = split(zone, weighing, steps_count=steps_count, most_extra_count=extra)
    turns = turns_of(network, segments.piping, zone, best.parting.part)
    table = actions(network, segments.piping, turns, night)
    if not turns.step:
        table = table.iloc[:0]
    section = np.append(turns.section, -1)[zone.pipe]
    share = _probability(likely, metres, section)
    before, after = (walk_of(share, metres, s) for s in (np.minimum(section, 0), section))
    sections = section_table(
        network,
        section,
        share,
        table.loc[table["action"] == "step", "valve_id"].tolist(),
        _also_shut(segments, zone, turns),
        dry_h(table),
        sought=sought,
        counted_l=counted_l,
        interval_s=night.step_s,
        settings=settings,
    )
    table["said"] = [action_sentence(row) for row in table.to_dict("records")]
    doubtful = doubtful_pipes(segments.piping, [*turns.prepare])
    doubtful |= doubtful_pipes(segments.piping, [*turns.prepare, *turns.step]) & (section == 0)
    at = network.connections["pipe_id"].isin(network.pipes.index[doubtful])
    return StepPlan(
        cell_id=cell_id,
        plan=table[list(STEP_PLAN.names())],
        sections=sections,
        pipes=pipe_table(network, section),
        users=user_table(network, section, table, night),
        walk_before_m=before,
        walk_after_m=after,
        proven=best.proven,
        said=sentences(
            str(network.cells["name"].get(cell_id, cell_id)),
            plan=table,
            sections=sections,
            walk_before_m=before,
            walk_after_m=after,
            flow=(sought.flow_l_s, sought.flow_l_s_low, sought.flow_l_s_high),
            proven=best.proven,
            kept=zone.reasons,
            reading=reading(network, cell_id, counted_l, limit, night),
            doubtful=natural(network.connections.index[at]),
        ),
        assumed=assumed(best, night, steps_count),
    )


def _fitting(night: Night, steps_count: int, cell_id: str) -> tuple[int, int]:
    """As many of the steps as fit into the night, and the valves to turn beside them."""
    most = min(steps_count, night.most_steps_count())
    if most < 1:
        need = 2 * night.step_s + night.turn_s
        raise StageError(
            f"zone {cell_id}: from {night.begins:%H:%M} to {night.ends:%H:%M} there is no time for "
            f"one step, which takes {brief(need / 60)} minutes with the reading before it. Give a "
            "longer night."
        )
    return most, night.most_extra_count(most)


def _probability(likely: Reals, metres: Reals, section: Wholes) -> Reals:
    own = section >= 0
    known = np.where(own & np.isfinite(likely), likely, 0.0)
    return known if known.sum() > 0 else np.where(own, metres, 0.0)


def _also_shut(segments: Segments, zone: ZoneSegments, turns: Turns) -> list[str]:
    """By section, the valves of the preparation that stand at its border."""
    prepared = {g: segments.piping.gate_valves[g][0] for g in turns.prepare}
    sides = [turns.section[side] for side in (zone.first, zone.second)]
    return [
        ", ".join(
            natural(
                prepared[int(g)]
                for g, a, b in zip(zone.gate, *sides, strict=True)
                if int(g) in prepared and number in (a, b)
            )
        )
        for number in range(1, len(turns.step) + 1)
    ]
