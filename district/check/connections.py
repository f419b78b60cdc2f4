"""Connections against meters and allowances: whose night use is measured, and whose is assumed."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from district.check.wording import EACH, file_of, filled, ids_of, unknown_values
from district.errors import Finding, Severity
from district.results import Inputs
from district.schema.inputs import ZONE_METER_ROLES
from district.settings import Settings
from district.words import natural, places


def check_connections(inputs: Inputs, *, settings: Settings) -> list[Finding]:
    """Unknown meters and use classes, meters that serve two purposes, meters of no connection."""
    source = file_of(inputs, "connections")
    meters = file_of(inputs, "meters")
    connections = inputs.connections
    unknown = unknown_values(
        connections["meter_id"],
        connections["connection_id"],
        known=ids_of(inputs, "meters"),
        offered=set(filled(inputs.meters.loc[~_on_mains(inputs), "meter_id"])),
        severity="warning",
        source=source,
        noun="connection",
        what=f"a meter_id of {meters}",
        remedy=f"Correct the value, or add the meter to {meters}; "
        "until then its use is taken from the allowance",
    )
    classes = unknown_values(
        connections["use_class"],
        connections["connection_id"],
        known={"household", *settings.allowances},
        severity="warning",
        source=source,
        noun="connection",
        what="a class in section allowances of district.toml",
        remedy="Correct the class, or add it to that section; "
        "until then the household allowance is used",
    )
    named = _named(inputs)
    return [
        *unknown,
        *classes,
        *_two_purposes(inputs, named),
        *_shared(inputs, named),
        *_unnamed(inputs, named),
    ]


def _on_mains(inputs: Inputs) -> pd.Series:
    return inputs.meters["role"].isin(ZONE_METER_ROLES)


def _named(inputs: Inputs) -> dict[str, list[str]]:
    """The connections that name each meter."""
    given = filled(inputs.connections["meter_id"])
    named: dict[str, list[str]] = {}
    ids = inputs.connections["connection_id"].loc[given.index]
    for meter_id, connection_id in zip(given.to_numpy(), ids.to_numpy(), strict=True):
        named.setdefault(str(meter_id), []).append(connection_id)
    return {meter_id: natural(named[meter_id]) for meter_id in sorted(named)}


def _two_purposes(inputs: Inputs, named: Mapping[str, list[str]]) -> list[Finding]:
    zone = inputs.meters[_on_mains(inputs)]
    role = dict(zip(zone["meter_id"], zone["role"], strict=True))
    return [
        Finding(
            "error",
            file_of(inputs, "meters"),
            f"meter {meter_id}",
            "role",
            got=f"{role[meter_id]}, and named by {places('connection', named[meter_id])}",
            expected="a meter either on a main between zones or at a connection",
            remedy="Correct its role, or the meter_id of the connection",
        )
        for meter_id in natural(set(role) & set(named))
    ]


def _shared(inputs: Inputs, named: Mapping[str, list[str]]) -> list[Finding]:
    user = inputs.meters[~_on_mains(inputs)]
    known = set(user["meter_id"])
    source = file_of(inputs, "connections")
    ordered = natural(m for m, ids in named.items() if m in known and len(ids) > 1)
    found = [
        Finding(
            "note",
            source,
            places("connection", named[meter_id]),
            "meter_id",
            got=f'"{meter_id}" for all {len(named[meter_id])}',
            expected="a meter of their own, unless one measures them together",
            remedy="Check that this meter measures them all",
        )
        for meter_id in ordered[:EACH]
    ]
    rest = ordered[EACH:]
    if rest:
        found.append(
            Finding(
                "note",
                source,
                column="meter_id",
                got=f"{len(rest)} more meters that several connections name",
                expected="a meter of their own, unless one measures them together",
                remedy="Check that each of these meters measures them all",
            )
        )
    return found


def _unnamed(inputs: Inputs, named: Mapping[str, list[str]]) -> list[Finding]:
    found = []
    severities: tuple[tuple[str, Severity], ...] = (("building", "warning"), ("customer", "note"))
    for role, severity in severities:
        meters = inputs.meters.loc[inputs.meters["role"].eq(role), "meter_id"]
        alone = natural(meters[~meters.isin(named)])
        if alone:
            found.append(
                Finding(
                    severity,
                    file_of(inputs, "meters"),
                    places("meter", alone),
                    got=f"{role}, but no connection names {'it' if len(alone) == 1 else 'them'}",
                    expected="a connection with this meter_id",
                    remedy=f"Fill in meter_id in {inputs.files.get('connections', 'connections')}; "
                    "until then the use it measures is not subtracted from the inflow",
                )
            )
    return found
