"""How long each pipe was watched for breaks, and what broke on it in that time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import Reals, watched_years
from district.errors import Finding
from district.network import Network
from district.plan.laid import WITHIN_YEAR, laid_years, not_yet_laid
from district.schema.renewal_tables import PIPE_HISTORY
from district.settings import Settings
from district.words import day, listed, plural

BORE_EDGES_MM = (75.0, 125.0, 200.0, 300.0)
_BORE_WORDS = (
    "0 to 75 mm",
    "76 to 125 mm",
    "126 to 200 mm",
    "201 to 300 mm",
    "301 mm and more",
)
_SAME_DAY = 0.01
"""Days that a decimal year may miss a midnight by, as years are not all as long."""
Wholes = np.ndarray[Any, np.dtype[np.int64]]


@dataclass(frozen=True, eq=False)
class History:
    """Pipes as they were watched, in order of pipe_id, and each break of a main that counts.

    `table`: PIPE_HISTORY; `laid`: decimal year each was laid, assumed where not known; `break_pipe`
    position of each break's pipe in the table, `break_year` when, as a decimal year, `break_age` at
    what age in years, in order of time; `first` and `last` of the record, `known` whether it says
    anything; `left_out`: breaks not counted, by reason; `lost_count`: of mains, on no pipe
    at all or without a date.
    """

    table: pd.DataFrame
    laid: Reals
    break_pipe: Wholes
    break_year: Reals
    break_age: Reals
    first: float
    last: float
    known: bool
    left_out: Mapping[str, int]
    lost_count: int = 0
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[str, ...] = ()

    def ages(self) -> tuple[Reals, Reals]:
        """Age of each pipe when its watch began and when it ended, years."""
        first = self.table["from_year"].to_numpy(dtype=float) - self.laid
        last = self.table["to_year"].to_numpy(dtype=float) - self.laid
        return first, np.maximum(first, last)

    def has_gone(self) -> bool:
        """Whether any pipe that was watched has been taken out since."""
        watched = self.table["exposure_km_year"] > 0
        return bool((watched & ~self.table["in_use"].astype(bool)).any())


def pipe_history(
    pipes: pd.DataFrame,
    breaks: pd.DataFrame,
    *,
    settings: Settings,
    year: int,
    cells: pd.Series[Any] | None = None,
    streets: pd.Series[Any] | None = None,
    copy_of: Mapping[str, str] | None = None,
    source: str = "breaks",
    pipes_source: str = "pipes",
) -> History:
    """The watch kept on every pipe that is or was in use.

    Parameters: `pipes` layer PIPES, `breaks` table BREAKS, `year` of the plan, `cells` and
    `streets` of pipes by pipe_id, `copy_of` the pipe that a left-out copy lies on, `source` and
    `pipes_source` what the user calls the breaks and the pipes. The record runs as the settings
    say, else as its dates tell (`watched_years`). A pipe is watched from when it was laid, or when
    the record began, whichever is later (left truncation), until it was taken out or the record
    ended. A break does not count that has no date, is outside the record, on no pipe, or outside
    its pipe's time (an id used again): each is told. Rows told twice are one break already
    (`intake.breaks`).
    """
    table, drawn = _pipes(pipes, cells, streets), pipes["pipe_id"].astype(str)
    when = _dated(breaks, copy_of or {})
    first, last, known = _record(when, settings, year)
    laid, assumed = laid_years(table, first_year=first, last_year=last)
    began = np.where(table["installed_year"].isna(), first, laid)
    removed = table.pop("removed_year").to_numpy(dtype=float) + WITHIN_YEAR
    start = np.clip(began, first, last)
    end = np.clip(np.where(np.isnan(removed), last, removed), start, last)
    place = pd.Index(table["pipe_id"]).get_indexer(pd.Index(when["pipe_id"]))
    reason = _reasons(when, place, table, removed, (first, last))
    used = when.assign(place=place)[reason == ""]
    main = used[used["kind"] == "main"]
    at = main["place"].to_numpy(dtype=np.int64)
    on = main["when"].to_numpy(dtype=float)
    count = len(table)
    services = used.loc[used["kind"] != "main", "place"].to_numpy(dtype=np.int64)
    exposure = (end - start) * table["length_m"].to_numpy(dtype=float) / 1000
    table = table.assign(
        from_year=start,
        to_year=end,
        exposure_km_year=exposure if known else 0.0,
        breaks_count=np.bincount(at, minlength=count),
        service_breaks_count=np.bincount(services, minlength=count),
    )
    left = {str(k): int(n) for k, n in reason[reason != ""].value_counts().items()}
    undated = breaks.loc[breaks["date"].isna(), "kind"].fillna("main")
    if len(undated):
        left[_UNDATED] = len(undated)
    lost = ~when["pipe_id"].isin(set(drawn)) & (when["kind"] == "main")
    return History(
        table=table[list(PIPE_HISTORY.names())],
        laid=laid,
        break_pipe=at,
        break_year=on,
        break_age=np.maximum(on - laid[at], 0.0),
        first=first,
        last=last,
        known=known,
        left_out=left,
        lost_count=int(lost.sum() + (undated == "main").sum()),
        findings=(
            *_findings(when, reason, (first, last), source),
            *not_yet_laid(table, year=year, source=pipes_source),
        ),
        assumptions=tuple(assumed),
    )


def cells_of(network: Network) -> pd.Series[Any]:
    """The zone that most of each pipe of the layer lies in, by its pipe_id."""
    parts = pd.DataFrame(network.pipes.drop(columns="geometry"))
    lengths = parts.groupby(["layer_pipe_id", "cell_id"])["length_m"].sum().reset_index()
    lengths = lengths.sort_values(
        ["layer_pipe_id", "length_m", "cell_id"], ascending=[True, False, True]
    )
    first = lengths.drop_duplicates("layer_pipe_id")
    return pd.Series(first["cell_id"].to_numpy(), index=first["layer_pipe_id"].to_numpy())


def bore_class(diameter_mm: pd.Series[Any]) -> pd.Series[Any]:
    """The class of each diameter, in words; 'unknown' where it is not told."""
    bore = diameter_mm.to_numpy(dtype=float)
    words = np.array([*_BORE_WORDS, "unknown"], dtype=object)
    at = np.searchsorted(BORE_EDGES_MM, np.nan_to_num(bore))
    return pd.Series(words[np.where(np.isnan(bore), len(_BORE_WORDS), at)], index=diameter_mm.index)


def on_day(year: float, *, last: bool = False) -> date:
    """The day a decimal year falls on, or the last day any of which lies before it."""
    start = pd.Timestamp(int(year), 1, 1)
    length = 366 if start.is_leap_year else 365
    gone = (year - int(year)) * length
    days = math.ceil(gone - _SAME_DAY) - 1 if last else math.floor(gone + _SAME_DAY)
    return date(start.year, 1, 1) + timedelta(days=days)


def _pipes(
    pipes: pd.DataFrame, cells: pd.Series[Any] | None, streets: pd.Series[Any] | None
) -> pd.DataFrame:
    """Those in use, and those taken out in a year that is known; the rest says nothing."""
    said = pd.DataFrame(pipes.drop(columns="geometry", errors="ignore")).assign(
        pipe_id=pipes["pipe_id"].astype(str)
    )
    in_use = said["status"] == "in_use"
    gone = (said["status"] == "abandoned") & said["removed_year"].notna()
    said = said[in_use | gone].drop_duplicates("pipe_id").sort_values("pipe_id", kind="stable")
    ids = said["pipe_id"]
    table = pd.DataFrame(
        {
            "pipe_id": ids,
            "in_use": said["status"] == "in_use",
            "material": said["material"].fillna("unknown"),
            "diameter_mm": said["diameter_mm"].astype(float),
            "bore_class": bore_class(said["diameter_mm"]),
            "installed_year": said["installed_year"].astype(float),
            "removed_year": said["removed_year"].astype(float).where(said["status"] != "in_use"),
            "length_m": said["length_m"].astype(float),
            "ground": said["ground"].fillna("").astype(str),
            "cell_id": _by_id(ids, cells),
            "street": _by_id(ids, said["street"].fillna("") if streets is None else streets),
        }
    )
    return table.reset_index(drop=True)


def _by_id(ids: pd.Series[Any], known: pd.Series[Any] | None) -> Any:
    if known is None:
        return ""
    if known.index.equals(ids.index):
        return known.to_numpy()
    return known.reindex(ids).fillna("").to_numpy()


def _dated(breaks: pd.DataFrame, copy_of: Mapping[str, str]) -> pd.DataFrame:
    """pipe_id ('' where none is known), date, decimal year and kind of each break with a day."""
    rows = breaks.dropna(subset=["date"])
    days = pd.to_datetime(rows["date"])
    length = np.where(days.dt.is_leap_year, 366.0, 365.0)
    when = pd.DataFrame(
        {
            "pipe_id": rows["pipe_id"].fillna("").astype(str).replace(dict(copy_of)),
            "date": days,
            "when": days.dt.year + (days.dt.day_of_year - 0.5) / length,
            "kind": rows["kind"].fillna("main"),
        }
    )
    return when.sort_values(["date", "pipe_id", "kind"], kind="stable", ignore_index=True)


def _record(when: pd.DataFrame, settings: Settings, year: int) -> tuple[float, float, bool]:
    """First and last moment of the record, as decimal years, and whether there is one."""
    said = settings.renew.record_dates
    if said:
        first, last = (_decimal(d) for d in said)
        return first, last + 1 / 365.25, True
    seen = when.loc[when["when"] < year + 1, "when"].to_numpy(dtype=float)
    if not len(seen):
        return float(year), float(year), False
    years, last = watched_years(seen, year=year)
    # What is to come was not watched.
    return last - years, min(last, year + float(seen.max() >= year)), True


def _decimal(on: date) -> float:
    stamp = pd.Timestamp(on)
    return float(on.year + (stamp.day_of_year - 1) / (366 if stamp.is_leap_year else 365))


_UNDATED = "without a date"
_OUTSIDE, _NO_PIPE, _BEFORE, _AFTER = (
    "outside the record",
    "on no pipe of the layer whose time in the ground is known",
    "before its pipe was laid",
    "after its pipe was taken out",
)


def _reasons(
    when: pd.DataFrame,
    place: Any,
    table: pd.DataFrame,
    removed: Reals,
    record: tuple[float, float],
) -> pd.Series[Any]:
    """Why each break does not count; '' where it does."""
    on = when["when"].to_numpy(dtype=float)
    known = place >= 0
    installed = table["installed_year"].to_numpy(dtype=float)
    laid = np.where(known, np.append(installed, np.nan)[place], np.nan)
    gone = np.where(known, np.append(removed, np.nan)[place], np.nan)
    reason = np.full(len(when), "", dtype=object)
    # The record's end may fall within the day of its last break.
    reason[(on < record[0] - 1e-9) | (on > record[1] + 1e-9)] = _OUTSIDE
    reason[np.floor(on) < laid] = _BEFORE
    reason[np.floor(on) > np.floor(gone)] = _AFTER
    reason[~known] = _NO_PIPE
    return pd.Series(reason, index=when.index)


def _findings(
    when: pd.DataFrame, reason: pd.Series[Any], record: tuple[float, float], source: str
) -> list[Finding]:
    """What lies outside the record; the rest is found where layers and records are checked."""
    odd = when[reason == _OUTSIDE]
    if odd.empty:
        return []
    days = listed([f"{day(d)} at {p}" for d, p in zip(odd["date"], odd["pipe_id"], strict=True)])
    return [
        Finding(
            "warning",
            source,
            "" if len(odd) > 1 else f"row of {day(odd['date'].iloc[0])}",
            "date",
            f"{plural(len(odd), 'break')} outside the record ({days})",
            f"a date from {day(on_day(record[0]))} to {day(on_day(record[1], last=True))}",
            "Correct the date, or record_dates under [renew]; until then it counts for no pipe",
            count=len(odd),
        )
    ]
