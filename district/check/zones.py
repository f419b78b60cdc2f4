"""Zones as outlined against the cells that meters and shut valves really close off."""

from __future__ import annotations

import pandas as pd

from district.check.wording import file_of
from district.errors import Finding, Severity
from district.network import Network, connected_parts, zone_of_points
from district.results import Inputs
from district.words import listed, natural, natural_key, places, plural

SMALL_KM = 0.05
"""A stray piece between two devices shorter than this, serving nobody, is not worth a word."""


def check_zones(network: Network, inputs: Inputs) -> list[Finding]:
    """Zones without an area of their own, split or joined ones, areas that cannot be balanced or
    serve nobody, and connections drawn in another zone than their pipe's."""
    if network.pipes.empty:
        return []
    cells = network.cells
    home = {zone: cell for cell, zones in cells["zone_ids"].items() for zone in zones}
    lengths = _lengths_km(network)
    fed = _joined_to_source(network)
    return [
        *_homeless(network, inputs, home, lengths),
        *_spread(network, inputs, home, lengths, fed),
        *_together(network, inputs),
        *_unbalanced(network, inputs, fed),
        *_unserved(network, inputs, home),
        *_connections(network, inputs, home),
    ]


def _lengths_km(network: Network) -> pd.DataFrame:
    """zone_id, cell_id, mains_km: where the pipes of each cell lie, by their middles."""
    pipes = network.pipes
    middle = pipes.geometry.interpolate(0.5, normalized=True)
    lying = pd.DataFrame(
        {
            "zone_id": zone_of_points(middle, network.zones),
            "cell_id": pipes["cell_id"].to_numpy(),
            "mains_km": pipes["length_m"].to_numpy() / 1000.0,
        }
    )
    return lying.groupby(["zone_id", "cell_id"], as_index=False)["mains_km"].sum()


def _joined_to_source(network: Network) -> set[str]:
    """Cells from which pipes lead to a source; of the others it is told that none does."""
    cell_id = network.pipes["cell_id"].to_numpy()
    part = pd.Series(connected_parts(network.pipes, network.nodes), index=cell_id)
    fed = part[part.index.isin(network.sources["cell_id"])]
    return set(part.index[part.isin(fed)].unique())


def _homeless(
    network: Network, inputs: Inputs, home: dict[str, str], lengths: pd.DataFrame
) -> list[Finding]:
    """Zones no cell is called by: without pipes, or joined to a source with no meter between."""
    found = []
    for zone_id in natural(set(network.zones.index) - set(home)):
        here = lengths[lengths["zone_id"] == zone_id].sort_values("mains_km", ascending=False)
        if here.empty:
            found.append(
                Finding(
                    "warning",
                    file_of(inputs, "zones"),
                    f"zone {zone_id}",
                    "geometry",
                    got="an outline with no pipe in use inside",
                    expected="an outline around the zone's pipes",
                    remedy="Correct the outline, or remove the zone",
                )
            )
            continue
        cell = here["cell_id"].iloc[0]
        sources = network.sources.index[network.sources["cell_id"] == cell]
        found.append(
            Finding(
                "warning",
                file_of(inputs, "sources"),
                places("source", sources),
                got=f"no meter between it and zone {zone_id}",
                expected="a zone meter on every way from a source into a zone",
                remedy="Add the inlet meter, or mark the boundary valve shut; "
                "until then the zone has no balance",
            )
        )
    return found


def _spread(
    network: Network,
    inputs: Inputs,
    home: dict[str, str],
    lengths: pd.DataFrame,
    fed: set[str],
) -> list[Finding]:
    """Zones whose pipes are parted into several cells."""
    cells = network.cells
    main = lengths[lengths["zone_id"] != ""]
    main = main.sort_values(["mains_km", "zone_id"], ascending=[False, True])
    main = main.drop_duplicates("cell_id").set_index("cell_id")
    stray = [
        cell
        for cell in main.index
        if not cells.at[cell, "zone_ids"]
        and not cells.at[cell, "has_source"]
        and cell in fed
        and (cells.at[cell, "mains_km"] > SMALL_KM or cells.at[cell, "connections_count"] > 0)
    ]
    found = []
    for zone_id in natural(main.loc[stray, "zone_id"]):
        apart = natural(c for c in stray if main.at[c, "zone_id"] == zone_id)
        pieces = [f"{c} ({cells.at[c, 'mains_km']:.2f} km)" for c in [home[zone_id], *apart]]
        found.append(
            Finding(
                "warning",
                file_of(inputs, "zones"),
                f"zone {zone_id}",
                got=f"pipes that meters or shut valves part into {len(pieces)} areas: "
                f"{', '.join(pieces[:4])}" + (" ..." if len(pieces) > 4 else ""),
                expected="one area a zone",
                remedy="Correct the state of the valves between them, "
                "or give each area a zone of its own",
            )
        )
    return found


def _together(network: Network, inputs: Inputs) -> list[Finding]:
    """Cells that carry several zones."""
    joined = {c: zones for c, zones in network.cells["zone_ids"].items() if len(zones) > 1}
    return [
        Finding(
            "warning",
            file_of(inputs, "zones"),
            places("zone", joined[cell]),
            got="pipes joined to one area, with no meter and no shut valve between the zones",
            expected="a zone meter or a shut valve on every pipe between two zones",
            remedy="Add the meter or mark the valve shut; "
            f"until then they are balanced together as {cell}",
        )
        for cell in natural(joined)
    ]


def _unbalanced(network: Network, inputs: Inputs, fed: set[str]) -> list[Finding]:
    """Cells with connections that no meter lets water into."""
    cells, pipes = network.cells, network.pipes
    cut, cell_of = network.nodes["cut"].to_numpy(), pipes["cell_id"].to_numpy()
    meters = set(network.meters.index)
    on_edge = {
        cell
        for column in ("start_position", "end_position")
        for cell, name in zip(cell_of, cut[pipes[column]], strict=True)
        if name in meters
    }
    boundaries = network.boundaries
    known = set(boundaries["upstream_cell_id"]) | set(boundaries["downstream_cell_id"])
    entered = set(boundaries["downstream_cell_id"])
    found = []
    for cell in natural(cells.index[(cells["connections_count"] > 0) & ~cells["has_source"]]):
        if cell in entered or cell not in fed or (cell in on_edge and cell not in known):
            continue  # Fed, cut off, or its meter is already found to be wrong.
        out = boundaries.loc[boundaries["upstream_cell_id"] == cell, "meter_id"]
        count = int(cells.at[cell, "connections_count"])
        served = plural(count, "connection")
        if len(out):
            got = f"{served}, and only meters through which water leaves: {listed(out)}"
            remedy = "Correct downstream of these meters, or add the meter that lets water in"
        else:
            got = f"{served} and no zone meter on its edge"
            remedy = (
                "Add its inlet meter, or correct the state of the valves around it; "
                "until then it has no balance"
            )
        found.append(
            Finding(
                "warning",
                file_of(inputs, "meters"),
                f"area {cell}",
                got=got,
                expected="at least one zone meter that lets water in",
                remedy=remedy,
            )
        )
    return found


def _unserved(network: Network, inputs: Inputs, home: dict[str, str]) -> list[Finding]:
    """Zones that are balanced though nobody is connected in them."""
    edges = network.boundaries
    metered = {*edges["upstream_cell_id"], *edges["downstream_cell_id"]}
    cells = network.cells
    bare = cells.index[
        cells.index.isin(metered & set(home.values()))
        & ~cells["has_source"].astype(bool)
        & (cells["connections_count"] == 0)
    ]
    if inputs.connections.empty or not len(bare):
        return []
    return [
        Finding(
            "note",
            file_of(inputs, "connections"),
            places("zone", bare),
            got="no connection",
            expected="the connections it serves",
            remedy="Nothing need be done if it serves none: all its inflow is then taken for "
            "leakage, and it has no figure by connection",
        )
    ]


def _connections(network: Network, inputs: Inputs, home: dict[str, str]) -> list[Finding]:
    """Connections drawn in one zone and served by a pipe of another, by pair of zones."""
    placed = network.connections[network.connections["cell_id"] != ""]
    drawn = pd.Series(zone_of_points(placed.geometry, network.zones), index=placed.index)
    zones_of = network.cells["zone_ids"].to_dict()
    # A stray piece 'V1/2' belongs to V1, as its name says; that it is apart is told elsewhere.
    strays = {c: c.rpartition("/")[0] for c in zones_of if c.rpartition("/")[0] in home}
    odd: dict[tuple[str, str], list[str]] = {}
    for name, zone_id, cell in zip(
        placed.index.to_numpy(), drawn.to_numpy(), placed["cell_id"].to_numpy(), strict=True
    ):
        own = zones_of[cell] or (strays.get(cell, ""),)
        if zone_id in own or (zone_id and zone_id not in home):
            continue
        odd.setdefault((zone_id, cell), []).append(str(name))
    found = []
    for zone_id, cell in sorted(odd, key=lambda k: (natural_key(k[0]), natural_key(k[1]))):
        names = odd[zone_id, cell]
        severity: Severity = "warning" if zone_id else "note"
        where = f"in zone {zone_id}" if zone_id else "outside every zone"
        found.append(
            Finding(
                severity,
                file_of(inputs, "connections"),
                places("connection", names),
                "geometry",
                got=f"{len(names)} drawn {where}, but on a pipe of {cell}",
                expected="each in the zone of the pipe that serves it",
                remedy="Correct the zone's outline, or the pipe or the state of a valve there; "
                "the balance follows the pipe",
            )
        )
    return found
