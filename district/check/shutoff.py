"""Valves that shut a building by themselves, and sensors in buildings: whose they are."""

from __future__ import annotations

import pandas as pd

from district.check.wording import file_of, filled, unknown_values, unread
from district.errors import Finding
from district.results import Inputs
from district.words import missing, places


def check_shutoff(inputs: Inputs) -> list[Finding]:
    """Automatic valves without a building that has a connection, or whose fail position is not
    known; sensors in buildings that no connection names."""
    valves = inputs.valves
    automatic = valves[valves["kind"] == "automatic_shutoff"]
    return [
        *_strangers(inputs, "valves", "valve_id", automatic),
        *_bare(
            inputs,
            automatic,
            "building_id",
            expected="the building that a valve of kind automatic_shutoff shuts",
            remedy="Fill it in; until then no setting is advised for it",
        ),
        *_bare(
            inputs,
            automatic,
            "fail_position",
            expected="open, shut or stays: what a valve of kind automatic_shutoff does without "
            "power",
            remedy="Find out and fill it in; it decides who is without water in a power cut",
        ),
        *_strangers(inputs, "sensors", "sensor_id", inputs.sensors),
    ]


def _strangers(inputs: Inputs, layer: str, key: str, rows: pd.DataFrame) -> list[Finding]:
    """Rows whose building no connection names."""
    connections = file_of(inputs, "connections")
    meanwhile = {
        "valves": "until then no setting is advised for it",
        "sensors": "until then its alarms are laid beside the flow of its zone alone",
    }[layer]
    known = set(filled(inputs.connections["building_id"]).to_numpy())
    return unknown_values(
        rows["building_id"],
        rows[key],
        known=None if unread(inputs, "connections") else known,
        severity="warning",
        source=file_of(inputs, layer),
        noun=layer.removesuffix("s"),
        what=f"a building_id of {connections}",
        remedy=f"Correct the value, or fill it in there; {meanwhile}",
    )


def _bare(
    inputs: Inputs, automatic: pd.DataFrame, column: str, *, expected: str, remedy: str
) -> list[Finding]:
    """Valves that shut by themselves of which `column` is not told."""
    bare = automatic.loc[automatic[column].map(missing).astype(bool), "valve_id"].dropna()
    if bare.empty:
        return []
    return [
        Finding(
            "warning",
            file_of(inputs, "valves"),
            places("valve", bare),
            column,
            got="nothing",
            expected=expected,
            remedy=remedy,
        )
    ]
