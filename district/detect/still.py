"""Meters that should stand still at times: whether they do, or water runs without an end."""

from __future__ import annotations

import numpy as np
import pandas as pd

from district.detect import still_words
from district.detect.magnitude import S_PER_D
from district.detect.standing import standing
from district.detect.verdicts import WORTH_KNOWING_L_S, verdicts
from district.network import Network
from district.schema.columns import empty
from district.schema.event_tables import BUILDING_CHECKS
from district.schema.typed import typed
from district.settings import Settings
from district.words import period

_REFILL_H = 6
"""A leaking cistern fills up more often than this; a cleaner comes once a day (no source)."""
_YEAR_S = 365.25 * S_PER_D
_SAID = {
    "constant_flow": still_words.constant,
    "empty_flow": still_words.while_empty,
    "still": still_words.still,
    "below_resolution": still_words.still,
    "dead": still_words.dead,
    "stuck": still_words.stuck,
    "too_few": still_words.too_few,
}


def check_buildings(
    still_days: pd.DataFrame,
    quality: pd.DataFrame,
    *,
    network: Network,
    works: pd.DataFrame,
    settings: Settings,
    periods: pd.DataFrame,
    daily_volumes: pd.DataFrame,
    events: pd.DataFrame,
) -> pd.DataFrame:
    """Table BUILDING_CHECKS: one row a building's or customer's meter with readings.

    Parameters: tables STILL_DAYS, DEVICE_QUALITY, EMPTY_PERIODS, DAILY_VOLUMES (used for meters
    read less often than hourly) and EVENTS (only those open at the meters are named); `works` the
    input table (UTC). Nothing is written to.

    Judged are the last 28 days of each meter, in this order: stuck, dead, flow in every hour
    (`settings.events.never_zero_h`), flow in hours without anybody there, lone steps evenly
    apart, two readings around an empty time; else it is still, or cannot tell. Money is at the
    price of water in `settings.costs`.
    """
    stand = standing(still_days, periods, daily_volumes, quality, network)
    if stand.own.empty:
        return empty(BUILDING_CHECKS)
    table = verdicts(stand, works, settings)
    opened = _open_events(events).reindex(pd.Index(table["meter_id"]))
    table["event"] = opened["event_id"].fillna("").to_numpy()
    # People may have drawn in every hour of some days before: a flow of this size began later.
    began = pd.Series(opened["start"].to_numpy(), index=table.index)
    table["since"] = table["since"].mask((began > table["since"]) & table["since"].notna(), began)
    table["process"] = (
        table["always"]
        & (table["rule"] == "never_zero")
        & ~table["while_empty"]
        & (table["role"] == "building")
    )
    table["act"] = _worth_a_visit(table)
    table = _run(table).assign(device_id=table["meter_id"], rests_on=_rests_on(table))
    price = settings.costs.water_currency_m3
    for end in ("", "_low", "_high"):
        # What stops has neither a volume since nor a cost a year.
        flow = table[f"constant_l_s{end}"].where(table["verdict"] != "empty_flow")
        table[f"volume_m3{end}"] = flow * table[f"run_d{end}"] * S_PER_D / 1000.0
        table[f"cost_currency_year{end}"] = flow * _YEAR_S / 1000.0 * price
    # Not by pandas' own rows: that looks at the kind of each of a million values. Nor by its own
    # names, which are made anew whenever they are gone through.
    names, columns = list(table), [table[name].tolist() for name in table]
    rows = (dict(zip(names, values, strict=True)) for values in zip(*columns, strict=True))
    table["said"] = [_SAID[row["verdict"]](row) for row in rows]
    return typed(table.sort_index(), BUILDING_CHECKS).reset_index(drop=True)


def _worth_a_visit(table: pd.DataFrame) -> pd.Series[bool]:
    """What is off, and what flows without a reason known: no process that never stops."""
    off = table["verdict"].isin(["dead", "stuck"])
    constant = (table["verdict"] == "constant_flow") & table["steady"].astype(bool)
    seldom = (table["rule"] == "empty_hours") & (table["spell_h"] > _REFILL_H)
    passing = (table["verdict"] == "empty_flow") & ~seldom
    large = table["constant_l_s"] >= WORTH_KNOWING_L_S
    return off | ((constant | passing) & large & ~table["process"].astype(bool))


def _run(table: pd.DataFrame) -> pd.DataFrame:
    """Days the present flow has run; its day of beginning counts by half, and not at all, or
    whole, in the limits."""
    days = ((table["last"] - table["since"]).dt.days + 1.0).where(table["verdict"] != "dead")
    seen = np.minimum(table["run_h"] / 24.0, days).where(table["rule"] == "never_zero", 0.0)
    low = np.maximum(days - 1.0, seen)
    return table.assign(
        run_d=((low + days) / 2).where(days.notna()),
        run_d_low=low.where(days.notna()),
        run_d_high=days,
    )


def _rests_on(table: pd.DataFrame) -> list[str]:
    words = []
    columns = (table[c] for c in ("rule", "while_empty", "daily", "first", "last"))
    for rule, while_empty, daily, first, last in zip(*columns, strict=True):
        if rule == "two_readings":
            words.append(f"two readings around a time without anybody there, {_days(first, last)}")
        elif rule == "empty_hours":
            words.append("intervals in its empty hours")
        elif while_empty:
            words.append("hourly readings, the size those in its empty hours")
        else:
            words.append("readings a day or more apart" if daily else "hourly readings")
    return words


def _days(first: pd.Timestamp, last: pd.Timestamp) -> str:
    return period(first.date(), last.date())


def _open_events(events: pd.DataFrame) -> pd.DataFrame:
    """Newest open event of each meter, by its id: event_id and the day before its first night."""
    mine = events[(events["place_kind"] == "building") & (events["state"] == "open")]
    mine = mine.sort_values("start").drop_duplicates("place_id", keep="last")
    mine = mine.assign(start=mine["start"] - pd.Timedelta(days=1))
    return mine.set_index("place_id")[["event_id", "start"]]
