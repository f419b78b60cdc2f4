"""What a step test says: how much of the night's inflow each shut section took with it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.break_rates import Reals
from district.locate.scene import Scene, Z, tempered, there_share, too_early
from district.locate.spots import Evidence, Sought
from district.locate.step_flows import beyond_use, expected_use, of_zone, read_steps
from district.network.ways import pipes_in_order
from district.words import brief, figure, plural

OTHER_IN_SECTION = 0.1
"""Chance that a section holds another leak, or a use nobody knows of. Assumption."""
_SIZE_SHARE = (0.15, 0.5)
"""Standard deviation of what a leak loses on the night of the test, as a share of its size: by
pressure, and much more of one that grows. Assumption."""
_WRONG = 0.05


def step_evidence(scene: Scene, step_tests: pd.DataFrame) -> list[Evidence]:
    """What each step test of the zone says, one piece of evidence a test.

    `step_tests`: input table STEP_TESTS. A section's drop is what it used, its background leakage
    and, where the leak is in it, the leak. Use is the allowance of its properties, with its spread.
    """
    tests = of_zone(scene.network, scene.sought.cell_id, step_tests)
    return [_one(scene, test_id, rows) for test_id, rows in tests]


def _one(scene: Scene, test_id: str, rows: pd.DataFrame) -> Evidence:
    day = rows["time"].iloc[0].tz_convert(scene.settings.zone_info()).date()
    head = f"Step test {test_id} on {day}"
    there = there_share(scene, day)
    if there == 0:
        return scene.unused("step_test", f"{head}: {too_early(scene)}")
    steps, section, usable = read_steps(scene.network, scene.sought.cell_id, rows)
    if usable.sum() < 2:
        said = f"{head}: its valves and flows tell fewer than two sections of the map apart"
        return scene.unused("step_test", said)
    leak = scene.sought
    use = expected_use(
        scene.network,
        steps,
        section,
        usable,
        flow_l_s=leak.flow_l_s,
        limit_l_s=(leak.flow_l_s_high - leak.flow_l_s_low) / 2,
        settings=scene.settings,
    )
    net, sd = beyond_use(steps, use)
    most_l_s = float(np.nanmax(steps.left_l_s + steps.drop_l_s))
    gain = _gain(net, sd, scene.sought, most_l_s)
    by_section = np.append(np.where(usable, gain, 0.0), 0.0)
    likely = tempered(
        by_section[section[scene.spots.pipe[scene.own]]], wrong_share=_WRONG, there_share=there
    )
    length_m = pipes_in_order(scene.network)["length_m"].to_numpy(dtype=float)
    best = int(np.argmax(np.where(usable, net, -np.inf)))
    where = f"shut at valve {steps.valves[best - 1]}" if best else "that stayed open"
    half = Z * float(sd[best])
    took = figure(net[best], net[best] - half, net[best] + half, "flow_l_s")
    said = (
        f"{head}: of {plural(int(usable.sum()), 'section')}, the one {where} "
        f"({brief(length_m[section == best].sum() / 1000)} km) took most beyond its night use and "
        f"background, {took}; limits wider, as pressure rises in what stays open."
    )
    return scene.evidence("step_test", said, likely)


def _gain(net: Reals, sd: Reals, sought: Sought, most_l_s: float) -> Reals:
    """By section, how much likelier all drops are with the leak in it than without any: log."""
    known_sd = (sought.flow_l_s_high - sought.flow_l_s_low) / (2 * Z)
    flow_sd = np.hypot(known_sd, _SIZE_SHARE[sought.kind == "growing_leak"] * sought.flow_l_s)
    other = OTHER_IN_SECTION / max(most_l_s, 1e-6)
    without = (1 - OTHER_IN_SECTION) * _density(net, sd) + other
    beyond = _density(net - sought.flow_l_s, np.hypot(sd, flow_sd))
    inside = (1 - OTHER_IN_SECTION) * beyond + other
    return np.asarray(np.log(inside) - np.log(without))


def _density(apart: Reals, sd: Reals) -> Reals:
    """Of a normal variable so far from its mean."""
    return np.asarray(np.exp(-((apart / sd) ** 2) / 2) / np.sqrt(2 * np.pi) / sd)
