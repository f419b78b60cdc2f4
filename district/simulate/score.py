"""How well results meet the seeded truth. Pure: tables in, table out."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
from shapely.geometry import Point

from district.words import natural_key

_NEAR_M = 1.0
"""A place this near to a walked piece is passed: pieces are told to the metre."""
_COLUMNS = ("measure", "value", "of", "share", "note")


def score(
    truth: pd.DataFrame,
    truth_nights: pd.DataFrame,
    *,
    nights: pd.DataFrame,
    likelihood: pd.DataFrame,
    stretches: pd.DataFrame,
    pipes: gpd.GeoDataFrame,
) -> pd.DataFrame:
    """Compare night balances and leak locations with the truth.

    Parameters: tables TRUTH and TRUTH_NIGHTS (`schema.truth`), NIGHTS, LIKELIHOOD and STRETCHES
    (`schema.outputs`; cells are called by their zone_id), and the network's pipes, indexed by
    pipe_id with layer_pipe_id and geometry in metres.

    Returns one row a measure, columns measure, value, of, share, note:

    - `nights_within_limits`: measured zone-nights (fault-free) whose true leakage lies between
      the 95 % limits, of all such; then the same by zone;
    - `median_limits_width_l_s`: median of upper less lower limit, of the median true leakage;
    - `leaks_in_search_set`: underground leaks running at the record's end whose place is on a
      piece of the 90 % set, of all such;
    - `search_before_leak_m`, one a leak: metres walked before its stretch is taken, of the
      zone's length. A crew takes stretches by rank, of those in the set only the piece told
      (`from_m` to `to_m`), and what was left out of them afterwards;
    - `mean_search_share` over the leaks.
    """
    rows = _night_rows(truth_nights, nights) + _leak_rows(truth, likelihood, stretches, pipes)
    return pd.DataFrame(rows, columns=list(_COLUMNS))


_Row = tuple[str, float, float, float, str]


def _row(measure: str, value: float, of: float, note: str = "") -> _Row:
    return measure, value, of, value / of if of else float("nan"), note


def _night_rows(truth_nights: pd.DataFrame, nights: pd.DataFrame) -> list[_Row]:
    measured = nights.loc[
        nights["status"] == "measured",
        ["cell_id", "night", "leakage_l_s_low", "leakage_l_s_high"],
    ].dropna()
    true = truth_nights.loc[~truth_nights["affected"].astype(bool)]
    both = true.assign(night=pd.to_datetime(true["night"])).merge(
        measured.assign(night=pd.to_datetime(measured["night"])),
        left_on=["zone_id", "night"],
        right_on=["cell_id", "night"],
    )
    inside = (both["leakage_l_s"] >= both["leakage_l_s_low"]) & (
        both["leakage_l_s"] <= both["leakage_l_s_high"]
    )
    width = both["leakage_l_s_high"] - both["leakage_l_s_low"]
    by_zone = [
        _row("nights_within_limits", float(held.sum()), float(len(held)), f"zone {zone}")
        for zone, held in inside.groupby(both["zone_id"])
    ]
    return [
        _row("nights_within_limits", float(inside.sum()), float(len(both)), "all zones"),
        *by_zone,
        _row(
            "median_limits_width_l_s",
            float(width.median()),
            float(both["leakage_l_s"].median()),
            "of the median true leakage",
        ),
    ]


def _leak_rows(
    truth: pd.DataFrame,
    likelihood: pd.DataFrame,
    stretches: pd.DataFrame,
    pipes: gpd.GeoDataFrame,
) -> list[_Row]:
    ended = truth["end_local"].fillna("").astype(str) != ""
    running = truth[(truth["what"] == "leak") & ~ended]
    points = gpd.GeoSeries(
        gpd.points_from_xy(running["longitude"], running["latitude"]),
        index=running["id"],
        crs="EPSG:4326",
    ).to_crs(pipes.crs)
    parts = likelihood.set_index("pipe_id")
    ranked = stretches.dropna(subset="rank").set_index("stretch_id")
    rows: list[_Row] = []
    found = 0
    shares = []
    for leak_id, layer_pipe_id in zip(running["id"], running["pipe_id"], strict=True):
        # Where a device splits the pipe, the piece the leak is on counts.
        own = pipes[pipes["layer_pipe_id"] == layer_pipe_id]
        pipe_id = (own if len(own) else pipes).distance(points[leak_id]).idxmin()
        stretch = parts["stretch_id"].get(pipe_id)
        if stretch not in ranked.index:
            rows.append(
                ("search_before_leak_m", float("nan"), float("nan"), 1.0, f"{leak_id}: not ranked")
            )
            shares.append(1.0)
            continue
        along_m = _along_m(parts, pipes.geometry, pipe_id, points[leak_id])
        zone = ranked[ranked["cell_id"] == ranked["cell_id"][stretch]]
        before, held = _walked(zone, stretch, along_m)
        row = _row(
            "search_before_leak_m",
            before,
            float(zone["length_m"].sum()),
            f"{leak_id} on {pipe_id} in {zone['cell_id'].iloc[0]}, "
            + ("in its set" if held else "outside its set"),
        )
        found += held
        shares.append(row[3])
        rows.append(row)
    mean = float(sum(shares) / len(shares)) if shares else float("nan")
    return [
        _row("leaks_in_search_set", float(found), float(len(running)), "running at the end"),
        *rows,
        ("mean_search_share", float("nan"), float("nan"), mean, "of each leak's zone"),
    ]


def _along_m(parts: pd.DataFrame, lines: gpd.GeoSeries, pipe_id: str, place: Point) -> float:
    """How far along its stretch a place on a part is; parts follow each other as numbered."""
    own = parts[parts["stretch_id"] == parts["stretch_id"][pipe_id]]
    order = sorted(own.index, key=lambda name: natural_key(str(name)))
    before = own["length_m"][order[: order.index(pipe_id)]].sum()
    share = lines[pipe_id].project(place, normalized=True)
    return float(before + share * own["length_m"][pipe_id])


def _walked(zone: pd.DataFrame, stretch: str, along_m: float) -> tuple[float, bool]:
    """Metres walked in a zone before a place on a stretch is come to, and whether it is on a
    piece of the set."""
    in_set = zone["in_set"].astype(bool)
    begin = zone["from_m"].where(in_set).fillna(0.0)
    end = zone["to_m"].where(in_set).fillna(zone["length_m"])
    better = zone["rank"] < zone["rank"][stretch]
    on_piece = begin[stretch] - _NEAR_M <= along_m <= end[stretch] + _NEAR_M
    walked = float((end - begin)[better].sum())
    if not on_piece:
        left_out = zone["length_m"] - (end - begin)
        walked = float((end - begin).sum() + left_out[better].sum())
    return walked, bool(in_set[stretch] and on_piece)
