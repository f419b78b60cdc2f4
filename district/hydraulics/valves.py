"""What the links that do not always let water through are doing, and when they change."""

from __future__ import annotations

from enum import IntEnum

import numpy as np

from district.hydraulics.head_loss import Losses, head_lost
from district.hydraulics.model import Flags, Kind, Model, Reals, Wholes
from district.hydraulics.reach import reached_nodes

JUST = 1e-9
"""m or L/s by which a condition must be broken before a link changes."""
NEAR = 1e-6
"""m or L/s within which a known state is taken to be at a condition."""


class Doing(IntEnum):
    """What a link does."""

    DEAD = 0
    """Shut for good, or no water at an end of it."""
    PASSING = 1
    HOLDING = 2
    """A reducing valve that holds its setting."""
    STOPPED = 3
    """A pump or valve that water would run through backwards."""
    SEEPING = 4
    """One stopped that alone joins water at rest to the rest: it lets a trace through."""


def held_head_m(model: Model) -> Reals:
    """Head a reducing valve holds at its end (L); NaN for other links."""
    return model.elevation_m[model.end] + model.setting_m


def upstream_m(model: Model, losses: Losses, head_m: Reals) -> Reals:
    """Most head each link (L) can bring to its end: that of its start, lifted or reduced."""
    before = head_m[model.start]
    reduced = np.where(model.kind == Kind.REDUCING, np.fmin(before, held_head_m(model)), before)
    return reduced + losses.lift_m


def at_first(alive: Flags) -> Wholes:
    """What each link does before anything is known: all that can pass is passing."""
    return np.where(alive, Doing.PASSING, Doing.DEAD).astype(np.int64)


def at_state(
    model: Model, losses: Losses, alive: Flags, sought: Flags, flow_l_s: Reals, head_m: Reals
) -> Wholes:
    """What each link did in a state that is known."""
    doing = at_first(alive)
    one_way = alive & (model.kind != Kind.PIPE)
    spare = upstream_m(model, losses, head_m) - head_m[model.end]
    doing[one_way & (flow_l_s <= NEAR) & (spare < -NEAR)] = Doing.STOPPED
    held = np.abs(head_m[model.end] - held_head_m(model)) < NEAR
    junction = np.isnan(model.fixed_head_m[model.end])
    doing[one_way & (doing == Doing.PASSING) & held & junction] = Doing.HOLDING
    return seeping(model, doing, sought)


def changed(
    model: Model, losses: Losses, doing: Wholes, flow_l_s: Reals, head_m: Reals
) -> tuple[Wholes, Reals]:
    """What the links do next, and by how much each broke its condition (m or L/s, 0 where none).

    A reducing valve whose end is a source or tank cannot hold it: it passes while the head there
    is below the setting, else it is stopped.
    """
    before, after = head_m[model.start], head_m[model.end]
    held = held_head_m(model)
    reducing = model.kind == Kind.REDUCING
    tank = ~np.isnan(model.fixed_head_m[model.end])
    one_way = (model.kind != Kind.PIPE) & (doing != Doing.DEAD)
    stopped = (doing == Doing.STOPPED) | (doing == Doing.SEEPING)
    lost = head_lost(losses, flow_l_s).head_m

    back = np.where(one_way & ~stopped, -flow_l_s, 0.0)
    opens = np.where(stopped, upstream_m(model, losses, head_m) - after, 0.0)
    high = np.where(one_way & reducing & (doing == Doing.PASSING), after - held, 0.0)
    short = np.where(doing == Doing.HOLDING, held - (before - lost), 0.0)

    following = np.where(short > JUST, Doing.PASSING, doing)
    following = np.where(high > JUST, np.where(tank, Doing.STOPPED, Doing.HOLDING), following)
    following = np.where(back > JUST, Doing.STOPPED, following)
    reopened = np.where(reducing & ~tank & (held <= before), Doing.HOLDING, Doing.PASSING)
    following = np.where(opens > JUST, reopened, following)
    broken = np.maximum.reduce([back, opens, high, short])
    return following, np.where(following != doing, broken, 0.0)


def seeping(model: Model, doing: Wholes, sought: Flags) -> Wholes:
    """The same, with the stopped links that lead to junctions nothing else reaches as seeping."""
    now = np.where(doing == Doing.SEEPING, Doing.STOPPED, doing)
    if not (now == Doing.STOPPED).any():
        return now
    runs = (now == Doing.PASSING) | (now == Doing.HOLDING)
    cut = sought & ~reached_nodes(model, runs)
    return np.where((now == Doing.STOPPED) & cut[model.end], Doing.SEEPING, now)
