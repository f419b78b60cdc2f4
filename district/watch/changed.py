"""Whether a revised alarm matters to a person again, and what changed, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from district.watch.headlines import KINDS
from district.words import figure, missing, spelled

LEAST_SHARE = 0.5
"""A flow outside the limits last told is news when it moved by this share of it, no sooner."""
LEAST_SURE = 0.5
"""Another kind is news once it is likelier than not: two that are near each other do not take
turns."""
_SIZES = ("size_l_s", "size_l_s_low", "size_l_s_high")


def remembered(row: Mapping[str, Any]) -> dict[str, Any]:
    """What an alarm is compared with next time: kind, state and flow as they are told now."""
    return {
        "told_kind": row["kind"],
        "told_state": row["state"],
        **{f"told_{name}": row[name] for name in _SIZES},
    }


def changed(old: Mapping[str, Any], row: Mapping[str, Any]) -> str:
    """What of an alarm (rows of TOLD) changed since it was last news; '' where that is no news."""
    parts = []
    if _other_kind(old, row):
        parts.append(f"taken for {_kind(row['kind'])}, then for {_kind(old['told_kind'])}")
    if row["state"] != old["told_state"]:
        parts.append(f"it is {spelled(row['state'])}, it was {spelled(old['told_state'])}")
    if _other_size(old, row):
        then, now = _flow(old, "told_"), _flow(row, "")
        parts.append(f"its flow is {now}, it was {then}")
    if bool(row["act"]) and not bool(old["act"]):
        parts.append("it is now to be acted on")
    return "; ".join(parts)


def _flow(row: Mapping[str, Any], head: str) -> str:
    middle, low, high = (row[f"{head}{name}"] for name in _SIZES)
    return figure(middle, low, high, "size_l_s")


def _kind(kind: Any) -> str:
    return KINDS.get(str(kind), spelled(kind))


def _other_kind(old: Mapping[str, Any], row: Mapping[str, Any]) -> bool:
    was, now = str(old["told_kind"]), str(row["kind"])
    if _kind(now) == _kind(was) or (was, now) == ("growing_leak", "leak"):
        # Two names of one thing; and that a leak has stopped growing is no call on anybody.
        return False
    return missing(row["kind_share"]) or float(row["kind_share"]) >= LEAST_SURE


def _other_size(old: Mapping[str, Any], row: Mapping[str, Any]) -> bool:
    now, was = row["size_l_s"], old["told_size_l_s"]
    low, high = old["told_size_l_s_low"], old["told_size_l_s_high"]
    if any(pd.isna(v) for v in (now, was, low, high)):
        return False
    outside = now > high or now < low
    return bool(outside and abs(now - was) >= LEAST_SHARE * abs(was))
