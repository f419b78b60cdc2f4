"""What the cut-out on a field sheet shows of a job."""

from __future__ import annotations

import geopandas as gpd

from district.field_job import FieldJob
from district.render.cut_out import cut_out
from district.results import Layers


def sheet_map(job: FieldJob, layers: Layers) -> str:
    """The pieces to search thick and numbered, the valves of the plan boxed, places to listen as
    dots, the connection that leaks as a star, as SVG."""
    numbered = [f"{n}: {s}" for n, s in zip(job.legs["leg"], job.legs["stretch_id"], strict=True)]
    own = job.cascade["connection_id"][job.cascade["leaks"].astype(bool)]
    leaking = layers.connections[layers.connections["connection_id"].isin(own)]
    return cut_out(
        layers,
        lines=gpd.GeoDataFrame({"label": numbered}, geometry=list(job.legs.geometry)),
        boxed=job.valves["valve_id"].astype(str),
        dots=job.points.geometry,
        stars=leaking.geometry,
    )


def map_words(job: FieldJob) -> str:
    """What the cut-out shows, for a reader who cannot see it."""
    names = list(dict.fromkeys(str(s) for s in job.legs["stretch_id"]))
    valves = [str(v) for v in job.valves["valve_id"]]
    return (
        f"Map about the job in {job.zone}: pieces to search on {', '.join(names) or 'no pipe'}; "
        f"valves of the plan {', '.join(valves) or 'none'}."
    )
