"""All that crews, sensors and the public told of a leak, as evidence over the spots."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import pandas as pd

from district.locate.acoustic import acoustic_evidence
from district.locate.correlator import correlation_evidence
from district.locate.scene import Scene
from district.locate.sighting import sighting_evidence
from district.locate.spots import Evidence, Seen, Sought, Spots
from district.locate.step_test import step_evidence
from district.locate.survey import survey_evidence
from district.locate.wet_floor import wet_floor_evidence
from district.network import Network
from district.settings import Settings


def field_evidence(
    network: Network,
    spots: Spots,
    sought: Sought,
    seen: Seen,
    *,
    settings: Settings,
    until: date | None = None,
    others: Sequence[Sought] = (),
) -> list[Evidence]:
    """What was seen and heard of the leak `sought`: step tests, correlations, acoustic loggers,
    floor sensors, reports, surveys, in that order and each by date.

    `until`: last day known of; the latest in `seen` if None. `others`: leaks looked for in other
    zones, which a report near the border may be of. What is of another zone is left out;
    what is of this one and cannot count is listed with its reason. Log-likelihoods are 0 at spots
    of other zones, and none rules a spot out: any record may be wrong. Nothing is written to.
    """
    own = spots.cell_id == sought.cell_id
    if not own.any():
        return []
    last = until or _latest(seen, settings)
    scene = Scene(network, spots, own, sought, settings, last, tuple(others))
    return [
        *step_evidence(scene, _by(seen.step_tests, "time")),
        *correlation_evidence(scene, _by(seen.correlations, "date")),
        *acoustic_evidence(scene, seen.acoustic_nights),
        *wet_floor_evidence(scene, _by(seen.alarms, "start_utc")),
        *sighting_evidence(scene, _by(seen.sightings, "time")),
        *survey_evidence(scene, _by(seen.surveys, "date"), seen.correlations),
    ]


def _by(table: pd.DataFrame, column: str) -> pd.DataFrame:
    return table.sort_values(column, kind="stable")


def _latest(seen: Seen, settings: Settings) -> date:
    zone = settings.zone_info()
    dated = [seen.surveys["date"], seen.correlations["date"], seen.acoustic_nights["night"]]
    timed = [seen.step_tests["time"], seen.sightings["time"], seen.alarms["end_utc"]]
    days = [d.dropna().max() for d in dated]
    days += [pd.to_datetime(t, utc=True).dt.tz_convert(zone).max() for t in timed]
    known = [d.date() for d in days if d is not pd.NaT and not pd.isna(d)]
    return max(known, default=date.max)
