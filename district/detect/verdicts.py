"""What each building's meter does: the first rule that holds, and the flow it tells of."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.detect.constant import by_habit, hidden_l_s, lone_steps, never_zero, shown_l_s
from district.detect.empty_times import in_empty_hours
from district.detect.hand_reads import between_readings
from district.detect.magnitude import RATES, S_PER_D
from district.detect.meter_health import silent, stuck
from district.detect.standing import Standing
from district.detect.unbroken import each
from district.settings import Settings

LEAST_H = 48.0
"""Hours that must be read before a meter is called still."""
WORTH_KNOWING_L_S = RATES[2].flow_l_d / S_PER_D
"""A cistern that loses half a cup a minute: a visit pays from here on, and less may hide behind a
coarse register without a word (our choice of the published rates)."""
SIZE = ("constant_l_s", "constant_l_s_low", "constant_l_s_high")


def verdicts(stand: Standing, works: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """`stand.own` with verdict, rule, constant_l_s and limits, smallest_l_s, since; what to say.

    `works` is the input table (UTC). A later rule takes the place of an earlier one: it is still,
    or too coarse; two readings; lone steps; empty hours; flow in every hour; dead; stuck; stale.
    """
    rows, own = stand.rows, stand.own
    fine = own[~own["daily"]]
    by_hour = rows["device_id"].isin(fine.index)
    mine = rows if by_hour.all() else rows[by_hour]
    hidden = hidden_l_s(own["spell_h"], own)
    table = own.assign(
        verdict="too_few",
        rule="",
        steady=True,
        since=pd.NaT,
        since_known=True,
        shown_h=1.0,
        while_empty=False,
        habit=own.index.isin(by_habit(mine, fine))
        & (own["run_h"] >= settings.events.never_zero_h).to_numpy(),
        constant_l_s=np.nan,
        constant_l_s_low=np.nan,
        constant_l_s_high=np.nan,
    )
    seen = (own["hours_count"] >= LEAST_H) | (own["daily"] & (own["spell_h"] > 0))
    quiet = seen & (own["spell_h"] > 0)
    coarse = hidden > WORTH_KNOWING_L_S
    table.loc[quiet, list(SIZE)] = 0.0
    table["constant_l_s_high"] = table["constant_l_s_high"].where(~quiet, hidden)
    table.loc[quiet, "verdict"] = np.where(coarse[quiet], "below_resolution", "still")
    table.loc[quiet, "shown_h"] = own.loc[quiet, "spell_h"]
    table = _by_readings(
        table, between_readings(stand.periods, own, timezone=settings.district.timezone)
    )
    table = _taken(table, lone_steps(mine, fine), "constant_flow", "lone_steps")
    table = _by_empty_hours(table, in_empty_hours(stand.hourly, fine), rows)
    while_empty = table[table["rule"].eq("empty_hours") & table["verdict"].eq("constant_flow")]
    constant = never_zero(mine, fine, never_zero_h=settings.events.never_zero_h)
    constant = constant[~table.loc[constant.index, "habit"]]
    runs = own.loc[constant.index]
    constant = constant.assign(since=runs["run_since"], since_known=runs["run_known"], shown_h=1.0)
    table = _taken(table, _narrower(constant, while_empty), "constant_flow", "never_zero")
    table = _by_health(table, stand, works, settings)
    table.loc[table["stale"], ["verdict", "rule"]] = ["too_few", ""]
    table.loc[table["stale"], list(SIZE)] = np.nan
    table.loc[table["stale"], "since"] = pd.NaT
    told = ~table["verdict"].isin(["dead", "stuck"]) & ~table["stale"]
    table["smallest_l_s"] = shown_l_s(table["shown_h"], table).where(told)
    return table


def _narrower(constant: pd.DataFrame, while_empty: pd.DataFrame) -> pd.DataFrame:
    """Flow in every hour with its size from the hours when nobody is there, where that is surer."""
    both = constant.index.intersection(while_empty.index)
    width = [f.loc[both, SIZE[2]] - f.loc[both, SIZE[1]] for f in (while_empty, constant)]
    surer = both[width[0] < width[1]]
    constant = constant.assign(while_empty=constant.index.isin(surer))
    constant.loc[surer, list(SIZE)] = while_empty.loc[surer, list(SIZE)]
    return constant


def _taken(table: pd.DataFrame, found: pd.DataFrame, verdict: str, rule: str) -> pd.DataFrame:
    """The table with what one rule found in the rows of its devices."""
    table = table.copy()
    for name in table.columns.intersection(found.columns):
        table.loc[found.index, name] = found[name]
    table.loc[found.index, ["verdict", "rule"]] = [verdict, rule]
    if "since" not in found:
        table.loc[found.index, "since"] = pd.NaT
    return table


def _by_readings(table: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    """Two readings around an empty time, for meters that intervals tell nothing of."""
    found = found[table.loc[found.index, "verdict"] == "too_few"]
    found = found.assign(shown_h=found["read_h"], days_count=found["read_h"] / 24.0)
    found["days_count"] = found["days_count"].round()
    flowing = found["constant_l_s_low"] > 0
    coarse = ~flowing & (found["constant_l_s_high"] > WORTH_KNOWING_L_S)
    table = _taken(table, found[flowing], "empty_flow", "two_readings")
    table = _taken(table, found[coarse], "below_resolution", "two_readings")
    return _taken(table, found[~flowing & ~coarse], "still", "two_readings")


def _by_empty_hours(table: pd.DataFrame, found: pd.DataFrame, rows: pd.DataFrame) -> pd.DataFrame:
    """Flow while nobody is there: constant unless the meter stood still for too long for that."""
    found = found[(found["constant_l_s_low"] > 0) & found["enough"]]
    begun = each(rows, found["since"])
    after = rows[rows["device_id"].isin(found.index) & ~(rows["day"] <= begun)]
    pause_h = after.groupby("device_id")["spell_h"].max().reindex(found.index).fillna(0.0)
    lately = table.loc[found.index, "spell_h"]
    pause_h = pause_h.where(found["in_a_row"], lately)
    step_l = table.loc[found.index, "step_l"].fillna(0.0)
    owed_l = pause_h * 3600.0 * found["constant_l_s_low"]
    stops = (owed_l > step_l) & (pause_h >= 1)
    found = found.assign(spell_h=pause_h, shown_h=found["empty_h"] / found["days_count"])
    table = _taken(table, found[stops], "empty_flow", "empty_hours")
    return _taken(table, found[~stops], "constant_flow", "empty_hours")


def _by_health(
    table: pd.DataFrame, stand: Standing, works: pd.DataFrame, settings: Settings
) -> pd.DataFrame:
    """Silent meters and stuck ones: of these no size is told."""
    rows, own = stand.rows, stand.own
    quiet = silent(rows, own, works=works, holidays=settings.holidays, zone=settings.zone_info())
    table = table.join(quiet)
    calm = quiet.index[~quiet["dead"].astype(bool)]
    calm = calm[table.loc[calm, "verdict"].isin(["still", "below_resolution", "too_few"])]
    table.loc[calm, ["verdict", "rule"]] = ["still", "idle"]
    dead = quiet.index[quiet["dead"].astype(bool)]
    table.loc[dead, ["verdict", "rule"]] = ["dead", ""]
    hours = stuck(stand.hourly, own)
    table["stuck_h"] = hours.reindex(table.index)
    table.loc[hours.index, ["verdict", "rule"]] = ["stuck", ""]
    off = table["verdict"].isin(["dead", "stuck"])
    table.loc[off, list(SIZE)] = np.nan
    table.loc[off, "since"] = pd.NaT
    dead = table["verdict"] == "dead"
    table.loc[dead, "since"] = table.loc[dead, "idle_since"]
    return table
