"""What the answer rests on, in sentences true to what was used."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from district.locate.assumed import field_assumptions
from district.locate.prior import Prior
from district.locate.size import BURST_SPREAD, OTHER_SHARE
from district.locate.spots import Heard
from district.locate.two_leaks import TWO_SHARE
from district.locate.zone_search import ZoneSearch
from district.results import Basis
from district.settings import Settings
from district.words import percent, plural

_MODEL_SAID = 8
"""Assumptions of the model of the pipes that are named; a large map may have one a valve."""


def basis_of(
    prior: Prior,
    breaks: pd.DataFrame,
    searches: Sequence[ZoneSearch],
    heard: Heard | None,
    settings: Settings,
) -> Basis:
    """Period of the breaks on record, assumptions, and what limits the answer."""
    dates = pd.to_datetime(breaks.dropna(subset=["date", "pipe_id"])["date"])
    used = {row["kind"] for s in searches for row in s.evidence if row["used"]}
    several = any(len(s.leaks) > 1 for s in searches)
    return Basis(
        first=dates.min().date() if len(dates) else None,
        last=dates.max().date() if len(dates) else None,
        assumptions=(
            *_assumptions(prior, used, several, settings),
            *(_of_model(heard) if heard is not None else ()),
        ),
        limits=tuple(_limits(prior, searches, heard)),
    )


def _assumptions(prior: Prior, used: set[str], several: bool, settings: Settings) -> list[str]:
    said = [
        "Expected leaks begin from published break rates by material (Folkman 2018) and by "
        "connection (Lambert et al. 1999), and are then drawn towards the district's own "
        f"breaks ({prior.breaks_used} over {prior.history_years:.0f} years).",
        "Assumed, without a source: how breaks grow with age (2 % a year), that they fall with "
        "bore (power 0.3), and that polyethylene breaks as PVC does.",
    ]
    if "size" in used:
        said.append(
            "Whether a leak is on a main or on a connection is told by its flow against published "
            "flows of bursts (Lambert et al. 1999). Assumed: 95 % of them lie within a factor of "
            f"{pow(2.718281828, 1.96 * BURST_SPREAD):.0f} of these, and {percent(OTHER_SHARE)} of "
            "leaks are of any size."
        )
    if "pressure" in used:
        said.append(
            f"What looks like one leak is taken for two at once in {percent(TWO_SHARE)} of cases "
            "before the loggers are heard (assumed)."
        )
    said += field_assumptions(used)
    said.append(
        f"Sets hold {percent(settings.locate.hold_share)} of each leak looked for, on the "
        "understanding that all of it is at one place."
    )
    if several:
        said.append(
            "Where a zone has several leaks to look for, its pipes are in the order of the flow "
            "found for each metre walked, over all of them."
        )
    return said


def _of_model(heard: Heard) -> list[str]:
    """What the model of the pipes takes for granted, where loggers are held against it."""
    if heard.calibrated.reason or not heard.calibrated.drawn.assumed:
        return []
    said = heard.calibrated.drawn.assumed
    more = len(said) - _MODEL_SAID
    rest = [f"And {plural(more, 'more assumption')} of the kind."] if more > 0 else []
    return [f"The model of the pipes: {said[0]}", *said[1:_MODEL_SAID], *rest]


def _limits(prior: Prior, searches: Sequence[ZoneSearch], heard: Heard | None) -> list[str]:
    said = []
    if prior.breaks_used == 0:
        said.append(
            "No break on record fits a pipe: pipes are told apart by material, age, bore, length "
            "and connections alone."
        )
    if prior.breaks_lost:
        said.append(
            "Left out, without a date, on no pipe of the layer or older than the pipe: "
            f"{prior.breaks_lost} of {prior.breaks_used + prior.breaks_lost} breaks on record."
        )
    if heard is not None and heard.calibrated.reason:
        said.append(
            "Pressure loggers do not count for where a leak is; what remains is the balance, the "
            f"expected leaks and what crews found. {heard.calibrated.reason}"
        )
    elif heard is not None and heard.calibrated.warning:
        said.append(heard.calibrated.warning)
    bare = [
        row["sought_id"]
        for s in searches
        for row in s.evidence
        if row["kind"] == "prior"
        and not any(
            e["used"] and e["sought_id"] == row["sought_id"] and e["kind"] not in ("prior", "size")
            for e in s.evidence
        )
    ]
    if bare:
        said.append(
            f"{plural(len(bare), 'leak')} looked for with no reading or record from the field that "
            "tells its place: the walk there rests on expected leaks alone."
        )
    return said
