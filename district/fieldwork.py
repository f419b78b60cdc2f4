"""What crews do about the leaks looked for: jobs as sheets with the form that comes back, what to
shut for an event, step tests.

Above the pipeline, which finds what to look for; where to walk and what to shut is worked out in
`district.survey` and `district.isolate`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd

from district import isolate, pipeline, render, survey
from district.errors import InputError
from district.field_job import FieldJob
from district.network import Network, map_layers
from district.network.ways import metres_along, pipes_in_order
from district.opening import Mapped, Opened, Say, silent
from district.results import Events, Location
from district.schema.columns import empty
from district.schema.entry_forms import entry_form
from district.schema.isolate_tables import PLAN_PRESSURES
from district.shutting import IsolationPlan, event_plan, not_sought
from district.stepping import StepTest, step_test_of
from district.words import missing, true


@dataclass(frozen=True, eq=False)
class Fieldwork:
    """A folder and its jobs, the most urgent first; `last` day of its data."""

    opened: Opened
    jobs: tuple[FieldJob, ...]
    last: date | None


def jobs_folder(folder: Path, *, events: Sequence[str] = (), say: Say = silent) -> Fieldwork:
    """A job for each leak looked for, and each flow in a building to act on; or for those named.

    `events` ids of events, or of zones where an excess is looked for. Raises `InputError`, also
    for an id that is none of these, `StageError`.
    """
    opened, found, told, location = pipeline.locate_folder(folder, say=say)
    wanted = _wanted(told, location)
    strange = [e for e in events if e not in wanted]
    if strange:
        raise InputError([not_sought(e, wanted) for e in strange])
    say("laying the walk")
    walk = survey.survey_walk(
        opened.network,
        location.stretches,
        location.likelihood,
        settings=opened.settings,
        streets=opened.inputs.streets,
    )
    mapped = Mapped(opened.settings, opened.inputs, opened.network, opened.findings)
    say("looking for valves")
    segments = isolate.segments_of(mapped.network, settings=mapped.settings)
    jobs = []
    for job_id in events or wanted:
        plan = event_plan(mapped, segments, told, location, job_id, say=say)
        jobs.append(_job(job_id, opened, told, location, walk, plan))
    return Fieldwork(opened, tuple(jobs), found.basis.last)


def write_jobs(found: Fieldwork, out: Path) -> tuple[Path, ...]:
    """Write a sheet and a form a job into `out`. Raises `OutputError`."""
    district = found.opened.settings.district
    return render.write_sheets(
        found.jobs,
        map_layers(found.opened.network),
        out,
        district=district.name,
        currency=district.currency,
        last=found.last,
    )


def isolate_event_folder(
    folder: Path, event_id: str, *, stuck: Sequence[str] = (), say: Say = silent
) -> IsolationPlan:
    """Which valves to shut for the leak of an event. Raises `InputError`, `StageError`."""
    opened, _, events, location = pipeline.locate_folder(folder, say=say)
    mapped = Mapped(opened.settings, opened.inputs, opened.network, opened.findings)
    say("looking for valves")
    segments = isolate.segments_of(mapped.network, settings=mapped.settings)
    return event_plan(mapped, segments, events, location, event_id, stuck=stuck, say=say)


def step_test_folder(
    folder: Path,
    *,
    zone: str,
    steps_count: int = 4,
    begins: time = time(1, 30),
    ends: time = time(4, 30),
    say: Say = silent,
) -> StepTest:
    """A step test of a zone, planned by where its leak most likely is, and what the tests on record
    read of it; `begins` and `ends` on the district's clock. Raises `InputError`, `StageError`."""
    opened, found, _, location = pipeline.locate_folder(folder, say=say)
    say("choosing the valves")
    night = isolate.Night(begins, ends)
    return step_test_of(
        opened, found.nights, location, zone=zone, steps_count=steps_count, night=night
    )


def write_step_test(found: StepTest, out: Path) -> tuple[Path, ...]:
    """Write the sheet of a step test and its form into `out`. Raises `OutputError`."""
    test_id = f"ST-{found.cell_id}" + (f"-{found.last}" if found.last else "")
    plan = found.plan
    return render.write_step_sheet(
        out,
        map_layers(found.network),
        test_id=test_id,
        zone=found.name,
        district=found.district,
        plan=plan.plan,
        sections=plan.sections,
        pipes=plan.pipes,
        users=plan.users,
        said=plan.said[:1],
        last=found.last,
    )


def _wanted(told: Events, location: Location) -> list[str]:
    """Ids of what may be a job: open events of buildings that ask for action, and all that is
    looked for in the street; by rank of the event."""
    events = told.events
    indoors = events[
        (events["place_kind"] == "building")
        & (events["state"] == "open")
        & events["act"].map(true).astype(bool)
    ]
    ranks = dict(zip(events["event_id"].astype(str), events["rank"], strict=True))
    sought = {str(s) for s in location.search_sets["sought_id"] if not missing(s)}
    return sorted(sought | set(indoors["event_id"].astype(str)), key=lambda e: (_rank(ranks, e), e))


def _rank(ranks: dict[str, float], event_id: str) -> float:
    rank = ranks.get(event_id)
    return np.inf if rank is None or missing(rank) else float(rank)


def _job(
    job_id: str,
    opened: Opened,
    told: Events,
    location: Location,
    walk: survey.SurveyWalk,
    plan: IsolationPlan,
) -> FieldJob:
    sets = location.search_sets[location.search_sets["sought_id"] == job_id]
    event = told.events[told.events["event_id"] == job_id]
    cell_id = str(sets["cell_id"].iloc[0] if len(sets) else event["cell_id"].iloc[0])
    cells = opened.network.cells
    legs = walk.legs[[job_id in str(ids).split(", ") for ids in walk.legs["sought_ids"]]]
    points = walk.points[walk.points["leg"].isin(legs["leg"])]
    set_ups = walk.set_ups[walk.set_ups["leg"].isin(legs["leg"])]
    # Numbered by the job: the crew holds this sheet alone.
    number = dict(zip(legs["leg"], range(1, len(legs) + 1), strict=True))
    legs, points, set_ups = (t.assign(leg=t["leg"].map(number)) for t in (legs, points, set_ups))
    legs = _along_pipe(legs, location, opened.network)
    shut = plan.plan.valves
    return FieldJob(
        job_id=job_id,
        cell_id=cell_id,
        zone=str(cells["name"].get(cell_id, cell_id)),
        event=event,
        sets=sets,
        legs=legs,
        points=points,
        set_ups=set_ups,
        leak_segments=plan.leak_segments,
        target=plan.target,
        valves=shut,
        areas=plan.plan.areas,
        users=plan.plan.users,
        failures=plan.plan.failures,
        cascade=plan.cascade,
        pressures=empty(PLAN_PRESSURES) if plan.pressure is None else plan.pressure.table,
        form=entry_form(
            job_id,
            walk=_pieces(legs, location, opened.network.pipes),
            method="listening",
            correlations=_pairs(set_ups),
            valves=shut.loc[shut["action"] == "shut", "valve_id"].astype(str).tolist(),
        ),
    )


def _along_pipe(legs: gpd.GeoDataFrame, location: Location, network: Network) -> gpd.GeoDataFrame:
    """Pieces as a crew measures them: from the western end of the whole pipe, though some are
    walked back and a stretch may be a zone's share of its pipe."""
    begins = pd.Series(metres_along(network), index=pipes_in_order(network).index)
    parts = location.likelihood[["stretch_id", "pipe_id", "length_m"]]
    parts = parts.assign(begins_m=begins.reindex(parts["pipe_id"]).to_numpy())
    parts = parts.sort_values("begins_m", kind="stable")
    of_stretch = dict(iter(parts.groupby("stretch_id", sort=False)))
    placed = []
    for leg in legs.itertuples():
        own = of_stretch[leg.stretch_id]
        ends = np.cumsum(own["length_m"].to_numpy(dtype=float))
        past = own["begins_m"].to_numpy(dtype=float) - (ends - own["length_m"].to_numpy())
        low, high = sorted((leg.from_m, leg.to_m))
        # At a joint a piece begins on the part after it and ends on the one before.
        first = min(int(np.searchsorted(ends, low, side="right")), len(ends) - 1)
        last = min(int(np.searchsorted(ends, high, side="left")), len(ends) - 1)
        placed.append((low + past[first], high + past[last]))
    both = np.array(placed, dtype=float).reshape(-1, 2)
    return legs.assign(from_m=both[:, 0], to_m=both[:, 1])


def _pieces(legs: pd.DataFrame, location: Location, pipes: pd.DataFrame) -> pd.DataFrame:
    """pipe_id, from_m and to_m for the form."""
    part = location.likelihood.drop_duplicates("stretch_id").set_index("stretch_id")["pipe_id"]
    parts = part.reindex(legs["stretch_id"])
    named = pipes["layer_pipe_id"].reindex(parts.to_numpy()).astype(str).to_numpy()
    return pd.DataFrame(
        {
            "pipe_id": named,
            "from_m": legs["from_m"].to_numpy(dtype=float).round(1),
            "to_m": legs["to_m"].to_numpy(dtype=float).round(1),
        }
    )


def _pairs(set_ups: pd.DataFrame) -> list[tuple[str, str]]:
    near = set_ups[~set_ups["too_far"].astype(bool)]
    pairs = zip(near["first_id"].astype(str), near["other_id"].astype(str), strict=True)
    return list(dict.fromkeys(pairs))  # two pieces of a stretch may share them
