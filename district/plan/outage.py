"""Who is without water when a main breaks: the segments it is shut off with, mean by length."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from district.estimates import Array, Estimate, by_group, of
from district.plan.parts import Parts
from district.results import Isolation
from district.words import natural


@dataclass(frozen=True, eq=False)
class Dry:
    """By main, in their order: its segments, and whom a break leaves without water."""

    segments: Any
    properties_count: Array
    people_count: Estimate
    critical_count: Array
    told: npt.NDArray[np.bool_]
    """Whether any of its parts is in a segment; else nobody is counted."""


def dry_users(parts: Parts, isolation: Isolation) -> Dry:
    """Whom a break of each main leaves without water.

    A break is as likely on each metre of a main: where valves part it, each part counts by its
    length, with the segment that has to be shut for it. People by household are counted by one
    assumption, so that their limits add.
    """
    segment_of = isolation.segment_pipes.drop_duplicates("pipe_id").set_index("pipe_id")
    segment = segment_of["segment_id"].reindex(parts.table["part_id"])
    losses = isolation.segment_losses.drop_duplicates("segment_id").set_index("segment_id")
    own = losses.reindex(segment)
    there = own["dry_properties_count"].notna().to_numpy()
    main, share = parts.main[there], parts.share()[there]
    # A part in no segment says nothing: the others stand for the whole main.
    whole = np.bincount(main, weights=share, minlength=parts.mains_count)
    share = share / whole[main]
    people = Estimate(*(np.nan_to_num(x) for x in of(own[there], "dry_people_count")))

    def mean(column: str) -> Array:
        known = own[column].fillna(0).to_numpy(dtype=float)[there]
        return np.bincount(main, weights=known * share, minlength=parts.mains_count).astype(float)

    return Dry(
        _names(segment.to_numpy()[there], main, parts.mains_count),
        mean("dry_properties_count"),
        by_group(people, main, groups_count=parts.mains_count, as_one=True, weight=share),
        mean("dry_critical_count"),
        np.asarray(whole > 0),
    )


def _names(segment: Any, main: Any, mains_count: int) -> Any:
    """The segments of each main, once each, as people sort them."""
    rank = {name: n for n, name in enumerate(natural(segment))}
    rows = pd.DataFrame({"main": main, "segment": segment}).drop_duplicates()
    rows = rows.assign(rank=rows["segment"].map(rank)).sort_values(["main", "rank"])
    of_main: list[list[str]] = [[] for _ in range(mains_count)]
    for number, name in zip(rows["main"].tolist(), rows["segment"].tolist(), strict=True):
        of_main[number].append(name)
    return np.array([", ".join(names) for names in of_main], dtype=object)
