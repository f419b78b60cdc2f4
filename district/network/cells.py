"""Cells: the areas that zone meters and shut valves close off, and the zones they carry.

A zone's polygon only labels. A cell is called by the zones most of whose pipes lie in it.
"""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import numpy as np
import numpy.typing as npt
import pandas as pd
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from district.errors import Finding


def cell_of_pipes(pipes: gpd.GeoDataFrame, nodes: gpd.GeoDataFrame) -> npt.NDArray[np.intp]:
    """The cell number of each pipe: pipes that share a node which nothing cuts share a cell."""
    return _parts(pipes, len(nodes), uncut=(nodes["cut"] == "").to_numpy())


def connected_parts(pipes: gpd.GeoDataFrame, nodes: gpd.GeoDataFrame) -> npt.NDArray[np.intp]:
    """The part of the network each pipe belongs to when no meter or valve cuts anything."""
    return _parts(pipes, len(nodes), uncut=np.ones(len(nodes), dtype=bool))


def _parts(
    pipes: gpd.GeoDataFrame, nodes: int, *, uncut: npt.NDArray[np.bool_]
) -> npt.NDArray[np.intp]:
    count = len(pipes)
    rows = np.concatenate([np.arange(count), np.arange(count)])
    ends = np.concatenate([pipes["start_position"], pipes["end_position"]]).astype(np.intp)
    keep = uncut[ends] if count else np.zeros(0, dtype=bool)
    size = count + nodes
    links = coo_array(
        (np.ones(int(keep.sum())), (rows[keep], count + ends[keep])), shape=(size, size)
    )
    _, label = connected_components(links, directed=False)
    return np.asarray(label[:count], dtype=np.intp)


def zone_of_points(points: gpd.GeoSeries, zones: gpd.GeoDataFrame) -> npt.NDArray[np.object_]:
    """The zone_id of the smallest polygon that covers each point, '' where there is none."""
    label = np.full(len(points), "", dtype=object)
    if not len(zones) or not len(points):
        return label
    by_size = zones.assign(area_m2=zones.area).sort_values(["area_m2", "zone_id"], ascending=False)
    shapes = by_size.geometry.to_numpy()
    point, polygon = shapely.STRtree(shapes).query(points.to_numpy(), predicate="covered_by")
    order = np.argsort(polygon, kind="stable")  # Smallest last, so that it wins.
    label[point[order]] = by_size["zone_id"].to_numpy()[polygon[order]]
    return label


def name_cells(
    pipes: gpd.GeoDataFrame, zones: gpd.GeoDataFrame, source_pipes: pd.Series[Any]
) -> pd.DataFrame:
    """Name the cells: index cell number; cell_id, zone_ids (tuple), has_source.

    A cell with a source is 'supply S1'; one that holds most of a zone's pipes is called by that
    zone ('V1', or 'V1+V2' when nothing parts the two); a stray piece 'V1/2'; one outside every
    zone 'unzoned/1'.
    """
    middle = pipes.geometry.interpolate(0.5, normalized=True)
    length = pd.DataFrame(
        {
            "cell": pipes["cell"].to_numpy(),
            "zone_id": zone_of_points(middle, zones),
            "length_m": pipes["length_m"].to_numpy(),
        }
    )
    cells = pd.DataFrame(index=pd.Index(np.unique(pipes["cell"]), name="cell"))
    fed = pipes["cell"].reindex(source_pipes.to_numpy()).to_numpy()
    supply = {
        cell: " and ".join(sorted(source_pipes.index[fed == cell].astype(str)))
        for cell in np.unique(fed)
    }
    cells["has_source"] = cells.index.isin(list(supply))
    inside = length[(length["zone_id"] != "") & ~length["cell"].isin(list(supply))]
    shares = inside.groupby(["zone_id", "cell"])["length_m"].sum().reset_index()
    shares = shares.sort_values(["length_m", "zone_id", "cell"], ascending=[False, True, True])
    home = shares.drop_duplicates("zone_id")
    carried = home.sort_values("zone_id").groupby("cell")["zone_id"].agg(tuple)
    cells["zone_ids"] = [carried.get(cell, ()) for cell in cells.index]
    main_label = shares.drop_duplicates("cell").set_index("cell")["zone_id"]
    by_pipe = pd.Series(pipes.index, index=pipes["cell"].to_numpy()).groupby(level=0).min()
    names: dict[int, str] = {}
    taken: set[str] = set()
    # First the cells called by one zone, so that a zone's name never goes to another's cell.
    kinds = {c: 0 if len(z) == 1 else 1 if z else 2 for c, z in cells["zone_ids"].items()}
    for cell in sorted(cells.index, key=lambda c: (kinds[c] + (c in supply), str(by_pipe[c]))):
        zone_ids = cells.at[cell, "zone_ids"]
        if cell in supply:
            name = _free(f"supply {supply[cell]}", taken)
        elif zone_ids:
            name = _free("+".join(zone_ids), taken)
        elif cell in main_label.index:
            name = _free(str(main_label[cell]), taken | {str(main_label[cell])})
        else:
            name = _free("unzoned", taken | {"unzoned"}, first=1)
        taken.add(name)
        names[cell] = name
    cells["cell_id"] = pd.Series(names)
    return cells


def _free(name: str, taken: set[str], *, first: int = 2) -> str:
    """The name, or with the first number after it that is not taken."""
    said, number = name, first
    while said in taken:
        said, number = f"{name}/{number}", number + 1
    return said


def cell_table(
    cells: pd.DataFrame,
    pipes: gpd.GeoDataFrame,
    connections: gpd.GeoDataFrame,
    zones: gpd.GeoDataFrame,
) -> pd.DataFrame:
    """The `cells` table of `Network`, sorted by cell_id."""
    named = zones.set_index("zone_id")
    names = named["name"].where(named["name"].notna(), named.index.to_series())
    home = {z: c for c, zs in zip(cells["cell_id"], cells["zone_ids"], strict=True) for z in zs}
    table = cells.set_index("cell_id").sort_index().rename_axis(None)
    table["name"] = [
        " + ".join(str(names[z]) for z in zs) if zs else cell_id
        for cell_id, zs in zip(table.index, table["zone_ids"], strict=True)
    ]
    parents = [
        {home.get(str(named.at[z, "parent_id"]), "") for z in zs} - {cell_id, ""}
        for cell_id, zs in zip(table.index, table["zone_ids"], strict=True)
    ]
    table["parent_cell_id"] = [min(p) if p else "" for p in parents]
    table["mains_km"] = pipes.groupby("cell_id")["length_m"].sum() / 1000.0
    grouped = connections[connections["cell_id"] != ""].groupby("cell_id")
    table["connections_count"] = grouped.size().reindex(table.index).fillna(0).astype(int)
    table["properties_count"] = (
        grouped["properties"].sum().reindex(table.index).fillna(0).astype(int)
    )
    table["private_km"] = grouped["private_pipe_m"].sum().reindex(table.index).fillna(0.0) / 1000.0
    table["elevation_m"] = grouped["elevation_m"].mean().reindex(table.index)
    return table


def boundary_meters(
    nodes: gpd.GeoDataFrame,
    pipes: gpd.GeoDataFrame,
    meters: gpd.GeoDataFrame,
    cells: pd.DataFrame,
    files: dict[str, str],
) -> tuple[pd.DataFrame, list[Finding]]:
    """The `boundaries` table of `Network`, and what is wrong with the meters in it."""
    home = {z: c for c, zs in zip(cells["cell_id"], cells["zone_ids"], strict=True) for z in zs}
    sides: dict[str, list[str]] = {}
    cut = nodes["cut"].to_numpy()
    # As arrays: pipes by the ten thousand, and a column of texts makes each of them anew.
    cell_of = pipes["cell_id"].to_numpy()
    for column in ("start_position", "end_position"):
        for node, cell_id in zip(pipes[column].to_numpy(), cell_of, strict=True):
            if cut[node]:
                sides.setdefault(cut[node], []).append(cell_id)
    rows, findings = [], []
    for meter in meters.sort_values("meter_id").itertuples():
        if meter.meter_id not in sides:
            continue
        beside = sides[meter.meter_id]
        if meter.role == "outlet" and pd.isna(meter.downstream):
            said = _export(meter.meter_id, beside, set(home.values()), files)
        else:
            downstream = home.get(str(meter.downstream))
            said = _direction(meter.meter_id, beside, downstream, str(meter.downstream), files)
        if isinstance(said, Finding):
            findings.append(said)
            continue
        rows.append(
            {
                "meter_id": meter.meter_id,
                "upstream_cell_id": said[0],
                "downstream_cell_id": said[1],
                "role": meter.role,
                "kind": meter.kind,
                "error_percent": meter.error_percent,
            }
        )
    columns = ["meter_id", "upstream_cell_id", "downstream_cell_id", "role", "kind"]
    return pd.DataFrame(rows, columns=[*columns, "error_percent"]), findings


def _direction(
    meter_id: str, beside: list[str], downstream: str | None, said: str, files: dict[str, str]
) -> tuple[str, str] | Finding:
    """Upstream and downstream cell of a meter, or what keeps them from being known."""
    source = files.get("meters", "meters")
    if len(beside) == 2 and beside[0] == beside[1]:
        return Finding(
            "warning",
            source,
            f"meter {meter_id}",
            got=f"the same zone, {beside[0]}, on both sides: water can pass around the meter",
            expected="its two sides parted by meters and shut valves",
            remedy="Check the state of the boundary valves around it; until then it is left out",
        )
    if len(beside) == 1:
        into = downstream == beside[0]
        return ("", beside[0]) if into else (beside[0], "")
    if downstream not in beside:
        return Finding(
            "error",
            source,
            f"meter {meter_id}",
            "downstream",
            got=f'"{said}"',
            expected=f"the zone on one of its sides: {' or '.join(beside)}",
            remedy="Name the zone that positive flow goes to",
        )
    first, second = beside
    return (second, first) if downstream == first else (first, second)


def _export(
    meter_id: str, beside: list[str], zone_cells: set[str], files: dict[str, str]
) -> tuple[str, str] | Finding:
    """Sides of an outlet meter without a downstream zone: water goes out of the one zone."""
    left = [cell_id for cell_id in beside if cell_id in zone_cells]
    if len(left) == 1:
        return left[0], ""
    return Finding(
        "error",
        files.get("meters", "meters"),
        f"meter {meter_id}",
        "downstream",
        got="nothing",
        expected=f"the zone positive flow goes to, as {len(left)} of its sides are zones",
        remedy="Fill it in; only an outlet with one zone beside it may leave it empty",
    )
