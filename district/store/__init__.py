"""Readings kept as Parquet in the district folder, and reduced in SQL."""

from district.store.building_days import building_days
from district.store.changes import changes
from district.store.freshness import digests, fingerprint, method, place
from district.store.hourly import hourly_flows
from district.store.keep import (
    clear,
    group_key,
    joined_quality,
    load_group,
    load_quality,
    sweep,
    write_group,
)
from district.store.manifest import KeptFile, Manifest, read_manifest, write_manifest
from district.store.raw import (
    GROUPS,
    group_of,
    groups_held,
    load_part,
    part_key,
    raw_rows,
    write_part,
)
from district.store.reductions import reduce

__all__ = [
    "GROUPS",
    "KeptFile",
    "Manifest",
    "building_days",
    "changes",
    "clear",
    "digests",
    "fingerprint",
    "group_key",
    "group_of",
    "groups_held",
    "hourly_flows",
    "joined_quality",
    "load_group",
    "load_part",
    "load_quality",
    "method",
    "part_key",
    "place",
    "raw_rows",
    "read_manifest",
    "reduce",
    "sweep",
    "write_group",
    "write_manifest",
    "write_part",
]
