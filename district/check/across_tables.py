"""What one layer says of another: names that must exist, and what must be there at all."""

from __future__ import annotations

from collections.abc import Mapping

from district.check.breaks import check_breaks
from district.check.connections import check_connections
from district.check.field_records import check_field_records
from district.check.ids import check_ids
from district.check.records import check_records
from district.check.shapes import check_shapes
from district.check.shutoff import check_shutoff
from district.check.tanks import bare_tanks
from district.check.wording import file_of, filled, ids_of, one_of, unknown_values, unread
from district.errors import Finding, worst_first
from district.results import Inputs
from district.schema.inputs import ZONE_METER_ROLES
from district.settings import FILE, Settings
from district.words import natural, places


def check_tables(inputs: Inputs, *, settings: Settings) -> tuple[Finding, ...]:
    """Every defect that shows only when two tables are held side by side, worst first.

    `inputs` are the layers and records as intake hands them on; they are not changed. Raises
    nothing: what stops a stage is a finding of severity `error`.
    """
    return worst_first(
        [
            *_at_all(inputs),
            *_downstream(inputs),
            *_parents(inputs),
            *_exceptional_use(inputs, settings),
            *_annual(inputs, settings),
            *_sensors(inputs),
            *bare_tanks(inputs),
            *check_ids(inputs),
            *check_shapes(inputs),
            *check_connections(inputs, settings=settings),
            *check_shutoff(inputs),
            *check_records(inputs, settings=settings),
            *check_breaks(inputs),
            *check_field_records(inputs, settings=settings),
        ]
    )


def _at_all(inputs: Inputs) -> list[Finding]:
    found = []
    if not inputs.pipes["status"].eq("in_use").any() and not unread(inputs, "pipes"):
        found.append(
            Finding(
                "error",
                file_of(inputs, "pipes"),
                got="no pipe in use",
                expected="at least one pipe with status in_use",
                remedy="Add the mains, or correct their status",
            )
        )
    no_roles = any(
        f.source == file_of(inputs, "meters") and f.column == "role" and not f.place
        for f in inputs.findings
    )
    if not (inputs.meters["role"].eq("inlet").any() or no_roles or unread(inputs, "meters")):
        found.append(
            Finding(
                "error",
                file_of(inputs, "meters"),
                column="role",
                got="no inlet meter",
                expected="at least one meter with role inlet, where water enters a zone",
                remedy="Add the inlet meters, or correct their role; "
                "no zone can be balanced without one",
            )
        )
    return found


def _downstream(inputs: Inputs) -> list[Finding]:
    meters = inputs.meters[inputs.meters["role"].isin(ZONE_METER_ROLES)]
    source, zones = file_of(inputs, "meters"), file_of(inputs, "zones")
    # An outlet may lead out of all zones.
    within = meters[meters["role"] != "outlet"]
    empty = within.loc[within.index.difference(filled(meters["downstream"]).index)]
    missing = [
        Finding(
            "error",
            source,
            f"meter {meter_id}",
            "downstream",
            got="nothing",
            expected=f"a zone_id of {zones}, the zone on the side positive flow goes to",
            remedy="Fill it in; without it the flow cannot be given to a zone",
        )
        for meter_id in natural(empty["meter_id"])
    ]
    wrong = unknown_values(
        meters["downstream"],
        meters["meter_id"],
        known=ids_of(inputs, "zones"),
        severity="error",
        source=source,
        noun="meter",
        what=f"a zone_id of {zones}",
        remedy=f"Correct the value, or add the zone to {zones}",
    )
    return [*missing, *wrong]


def _parents(inputs: Inputs) -> list[Finding]:
    zones, source = inputs.zones, file_of(inputs, "zones")
    known = natural(filled(zones["zone_id"]))
    wrong = unknown_values(
        zones["parent_id"],
        zones["zone_id"],
        known=known,
        severity="error",
        source=source,
        noun="zone",
        what=f"a zone_id of {source}",
        remedy="Correct the value, or leave it empty if the zone is fed straight from a source",
    )
    parents = filled(zones["parent_id"])
    parent = dict(zip(zones.loc[parents.index, "zone_id"], parents, strict=True))
    rings = [
        Finding(
            "error",
            source,
            places("zone", ring),
            "parent_id",
            got="a ring: " + ", ".join(f"{z} is fed through {parent[z]}" for z in ring),
            expected="a chain of zones that ends at one without a parent",
            remedy="Leave parent_id empty for the zone that the water reaches first",
        )
        for ring in _rings(parent)
    ]
    return [*wrong, *rings]


def _rings(parent: Mapping[str, str]) -> list[list[str]]:
    """Each ring of parents once, from its first zone onward."""
    rings: list[list[str]] = []
    done: set[str] = set()
    for start in natural(parent):
        walk: list[str] = []
        zone = start
        while zone in parent and zone not in done and zone not in walk:
            walk.append(zone)
            zone = parent[zone]
        if zone in walk:
            ring = walk[walk.index(zone) :]
            first = ring.index(natural(ring)[0])
            rings.append(ring[first:] + ring[:first])
        done.update(walk)
    return rings


def _exceptional_use(inputs: Inputs, settings: Settings) -> list[Finding]:
    zones = file_of(inputs, "zones")
    known = ids_of(inputs, "zones")
    if known is None:
        return []
    return [
        Finding(
            "error",
            FILE,
            "section exceptional_use",
            "zone_id",
            got=f'"{use}"',
            expected=one_of(known, use, what=f"a zone_id of {zones}"),
            remedy="Correct the value",
        )
        for use in natural(u.zone_id for u in settings.exceptional_use)
        if use not in known
    ]


def _annual(inputs: Inputs, settings: Settings) -> list[Finding]:
    """Classes and meters that the annual balance is told of and nothing has."""
    meters = inputs.meters[inputs.meters["role"].isin(ZONE_METER_ROLES)]
    named = (
        (
            "unbilled_classes",
            "connections",
            settings.annual.unbilled_classes,
            filled(inputs.connections["use_class"]),
            "a use_class of {}",
            "until then no use counts as unbilled by it",
        ),
        (
            "imported_meters",
            "meters",
            settings.annual.imported_meters,
            filled(meters["meter_id"]),
            "the meter_id of a zone meter of {}",
            "until then none of its water counts as imported",
        ),
    )
    return [
        Finding(
            "warning",
            FILE,
            "section annual",
            key,
            got=f'"{name}"',
            expected=one_of(set(known), name, what=what.format(file_of(inputs, layer))),
            remedy=f"Correct the value; {meanwhile}",
        )
        for key, layer, names, known, what, meanwhile in named
        if not unread(inputs, layer)
        for name in natural(names)
        if name not in set(known)
    ]


def _sensors(inputs: Inputs) -> list[Finding]:
    sensors = inputs.sensors
    bare = sensors[sensors["kind"].eq("pressure") & sensors["elevation_m"].isna()]
    if bare.empty:
        return []
    return [
        Finding(
            "warning",
            file_of(inputs, "sensors"),
            places("sensor", bare["sensor_id"]),
            "elevation_m",
            got="nothing",
            expected="the level of the gauge in m, as every pressure logger needs",
            remedy="Fill it in; until then its pressure is used as it stands, "
            "not brought to the level of the zone",
        )
    ]
