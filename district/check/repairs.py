"""What building the network mended, or kept though it may be a slip: one note a kind."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from district.check.wording import file_of
from district.errors import Finding
from district.network import Network
from district.results import Inputs
from district.words import brief, places, plural

_WHERE = "layer repairs of results.gpkg shows where"


def repair_notes(network: Network, inputs: Inputs, *, tolerance_m: float) -> list[Finding]:
    """At most one finding for each kind in `network.repairs`.

    That a pipe is split where a valve or a meter stands on it is how the network is built; it is
    in the layer and not told.
    """
    source = file_of(inputs, "pipes")
    found = []
    for what, rows in network.repairs.groupby("what", sort=False):
        if what in _SAID:
            got, expected, remedy = _SAID[str(what)](rows, tolerance_m)
            place = places("pipe", rows["pipe_id"])
            found.append(Finding("note", source, place, "geometry", got, expected, remedy))
    return found


def _zero_length(rows: pd.DataFrame, _: float) -> tuple[str, str, str]:
    return (
        plural(len(rows), "line") + " without length",
        "lines as long as the pipe",
        "Draw them, or remove them; until then they are left out",
    )


def _duplicate(rows: pd.DataFrame, tolerance_m: float) -> tuple[str, str, str]:
    return (
        f"{plural(len(rows), 'copy', 'copies')} of another pipe, {_pairs(rows)}: "
        "the same ends and the same line",
        "each pipe once",
        "Remove the copies, which are left out; where two mains really lie side by side, draw "
        f"them farther apart than {tolerance_m:g} m",
    )


def _snapped(rows: pd.DataFrame, _: float) -> tuple[str, str, str]:
    return (
        f"{plural(len(rows), 'end')} up to {_metres(rows)} from the end it meets",
        "ends that meet exactly",
        f"Nothing need be done: they are joined; {_WHERE}",
    )


def _tee(rows: pd.DataFrame, _: float) -> tuple[str, str, str]:
    apart = rows["distance_m"].max() >= 0.001
    return (
        f"{plural(len(rows), 'end')} on the middle of a pipe"
        + (f", up to {_metres(rows)} beside it" if apart else ""),
        "pipes drawn from junction to junction",
        f"Nothing need be done: the other pipe is split there; {_WHERE}",
    )


def _short_pipe(rows: pd.DataFrame, tolerance_m: float) -> tuple[str, str, str]:
    return (
        plural(len(rows), "pipe") + f" no longer than {tolerance_m:g} m, whose two ends are one",
        "pipes longer than snap_tolerance_m",
        "Nothing need be done unless a zone meter or a shut valve stands there: then lower "
        "snap_tolerance_m in district.toml",
    )


def _self_loop(rows: pd.DataFrame, _: float) -> tuple[str, str, str]:
    return (
        plural(len(rows), "pipe") + " whose two ends are one",
        "pipes that lead from one place to another, or a true ring",
        "Correct the line unless the pipe really returns to where it begins",
    )


def _parallel(rows: pd.DataFrame, _: float) -> tuple[str, str, str]:
    return (
        f"{plural(len(rows), 'pipe')} beside another between the same two junctions, "
        f"{_pairs(rows)}",
        "one pipe there, or two that really exist",
        f"Remove what was drawn twice, if anything; {_WHERE}",
    )


def _crossing(rows: pd.DataFrame, _: float) -> tuple[str, str, str]:
    return (
        f"{plural(len(rows), 'place')} where pipes cross without meeting, {_pairs(rows)}",
        "pipes that pass over one another, or meet at an end",
        "Nothing need be done for those that pass; where water goes from one to the other, let "
        f"one end there; {_WHERE}",
    )


_SAID: dict[str, Callable[[pd.DataFrame, float], tuple[str, str, str]]] = {
    "zero_length": _zero_length,
    "duplicate": _duplicate,
    "snapped_end": _snapped,
    "tee": _tee,
    "short_pipe": _short_pipe,
    "self_loop": _self_loop,
    "parallel": _parallel,
    "crossing": _crossing,
}


def _metres(rows: pd.DataFrame) -> str:
    return f"{brief(rows['distance_m'].max())} m"


def _pairs(rows: pd.DataFrame, shown: int = 2) -> str:
    """The first few as 'P1 with P2', so that one can look at them."""
    pairs = [
        f"{one} with {'itself' if one == two else two}"
        for one, two in zip(rows["pipe_id"], rows["other_id"], strict=True)
    ]
    few = list(dict.fromkeys(pairs))[:shown]
    return ", ".join(few) if len(few) == len(rows) else f"such as {', '.join(few)}"
