"""What a building's meter does, in sentences."""

from __future__ import annotations

from typing import Any

from district.detect.magnitude import FLUSH, a_day, as_much_as
from district.words import brief, day, missing, plural, whole

_AGAIN = "Read it before and after two hours or more without any use."


def constant(row: dict[str, Any]) -> str:
    """A flow in every hour read, or in steps of the register evenly apart."""
    said = f"{_size(row)} runs without a stop{_since(row)}"
    if row["rule"] == "lone_steps":
        said += (
            f", by lone steps of {brief(row['step_l'])} L of its register that come as evenly as "
            "only a constant flow makes them"
        )
    elif row["rule"] == "empty_hours":
        said += ", by the hours when nobody is there"
    said += f": {as_much_as(row['constant_l_s'])}. {FLUSH}; this does not stop."
    if row["rule"] == "never_zero" and not row["steady"]:
        said += (
            " Its lowest hour differs from day to day: people who draw at all hours would show so."
        )
    if row["process"]:
        said += (
            " It has run as long as there are readings: ask whether a process draws at all hours, "
            "such as a boiler, cooling or a laboratory, and look for it if none does."
        )
    if row["rate"]:
        said += " Or the meter does not return to zero: look at it with the valve behind it shut."
    if row["constant_l_s"] < row["q1_l_s"]:
        said += f" Below its Q1, {brief(row['q1_l_s'] * 3600)} L/h, a meter may show too little."
    return said + _event(row)


def while_empty(row: dict[str, Any]) -> str:
    """Water passed while nobody was there, though not at all times."""
    said = f"While nobody was there{_since(row)}, {_size(row)} passed on average"
    said += f", {as_much_as(row['constant_l_s'])}"
    if row["rule"] == "two_readings":
        return (
            f"{said}. Two readings do not tell whether it stops: look for a leak, an overflowing "
            f"cistern or a tap left open.{_event(row)}"
        )
    return (
        f"{said}, though it stops for up to {plural(int(row['spell_h']), 'hour')}: something "
        "draws now and then, such as a cistern that refills, cleaning, or a machine on a clock."
        f"{_event(row)}"
    )


def still(row: dict[str, Any]) -> str:
    """The meter was seen to stand still; what could run unseen all the same."""
    if row["rule"] == "idle":
        return _idle(row)
    said = _stood(row)
    if row["habit"]:
        said += (
            f" It has had flow in every hour since {day(row['run_since'])}, as in other weeks "
            "before: use, as of a shift."
        )
    if missing(row["constant_l_s_high"]):
        return said
    hidden = a_day(row["constant_l_s_high"])
    if row["verdict"] == "still":
        return f"{said} No more than {hidden} can run without a stop."
    return (
        f"{said} As its register moves by {brief(row['step_l'])} L, up to {hidden} could run "
        f"unseen, {as_much_as(row['constant_l_s_high'])}. A finer register or pulse, or a longer "
        "time without use, would tell."
    )


def dead(row: dict[str, Any]) -> str:
    """It shows nothing, unlike before."""
    said = f"It shows nothing since {day(row['idle_since'])}"
    if not row["lived"]:
        said = f"It has shown nothing in {plural(int(row['idle_days']), 'day')} of readings"
    elif row["before_days"] >= 1:
        said += f"; before, it never stood still for more than {brief(row['before_days'])} days"
    if row["left_days"] < row["idle_days"]:
        said += f"; {plural(int(row['left_days']), 'day')} of that are not on record as empty"
    if row["others_live"] > 0:
        count = plural(int(row["others_live"]), "other meter")
        return f"{said}, while {count} of the building went on: it is dead, or its pipe is shut."
    if row["together"] > 0:
        return (
            f"{said}, as {whole(row['together'])} meters of its zone from that day on: look first "
            "at how they are read, and whether the supply was shut."
        )
    return f"{said}: it is dead, its pipe is shut, or nobody is there. Ask, then look at it."


def stuck(row: dict[str, Any]) -> str:
    """It shows one flow."""
    return (
        f"It has shown exactly the same flow for {brief(row['stuck_h'] / 24)} days: no flow is so "
        "even. Look at the meter and its logger."
    )


def too_few(row: dict[str, Any]) -> str:
    """Nothing can be said."""
    if row["stale"]:
        return f"No readings since {day(row['last'])}."
    if row["daily"]:
        return (
            f"Read too seldom (every {brief(row['step_h'])} h) to tell whether it ever stands "
            f"still. {_AGAIN}"
            if not missing(row["step_h"])
            else f"Read too seldom to tell whether it ever stands still. {_AGAIN}"
        )
    return f"Only {plural(int(row['hours_count']), 'hour')} read lately, too few to tell. {_AGAIN}"


def _size(row: dict[str, Any]) -> str:
    names = ("constant_l_s", "constant_l_s_low", "constant_l_s_high")
    return a_day(*(row[name] for name in names))


def _since(row: dict[str, Any]) -> str:
    if missing(row["since"]):
        return ""
    return f" since {day(row['since'])}" + ("" if row["since_known"] else " or before")


def _stood(row: dict[str, Any]) -> str:
    if row["rule"] == "two_readings":
        return "Two readings around a time without anybody there show no flow."
    return f"It stood still for up to {brief(row['spell_h'])} h."


def _idle(row: dict[str, Any]) -> str:
    said = f"It shows nothing since {day(row['idle_since'])}"
    if row["left_days"] < row["idle_days"]:
        return f"{said}, while the premises stood empty or people were away."
    if row["others"] > 0 and row["others_live"] == 0:
        return f"{said}, and nor does any other meter of the building: nobody seems to be there."
    if row["before_days"] >= row["left_days"] / 2:
        return f"{said}, as for {brief(row['before_days'])} days before."
    return f"{said}: people may be away."


def _event(row: dict[str, Any]) -> str:
    return f" See event {row['event']}." if row["event"] else ""
