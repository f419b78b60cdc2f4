"""Readings kept as Parquet in the district folder, and reduced in SQL."""

from district.store.building_days import building_days
from district.store.building_intervals import building_intervals
from district.store.changes import changes
from district.store.freshness import digests, fingerprint, looks, method, place, seen
from district.store.hourly import hourly_flows
from district.store.keep import (
    clear,
    contents_key,
    kept_file,
    key_of,
    load_frames,
    load_quality,
    load_told,
    span_of,
    sweep,
    write_kept,
)
from district.store.manifest import (
    KeptFile,
    KeptPart,
    Manifest,
    kept_months,
    month_key,
    parts_between,
    parts_of,
    read_manifest,
    write_manifest,
)
from district.store.presence import devices_in, holding, presence_of
from district.store.raw import (
    GROUPS,
    Pieces,
    group_of,
    load_part,
    part_key,
    pieces_of,
    raw_rows,
    write_part,
)
from district.store.reductions import reduce
from district.store.registry import Registry, Told, before_of, read_registry, write_registry

__all__ = [
    "GROUPS",
    "KeptFile",
    "KeptPart",
    "Manifest",
    "Pieces",
    "Registry",
    "Told",
    "before_of",
    "building_days",
    "building_intervals",
    "changes",
    "clear",
    "contents_key",
    "devices_in",
    "digests",
    "fingerprint",
    "group_of",
    "holding",
    "hourly_flows",
    "kept_file",
    "kept_months",
    "key_of",
    "load_frames",
    "load_part",
    "load_quality",
    "load_told",
    "looks",
    "method",
    "month_key",
    "part_key",
    "parts_between",
    "parts_of",
    "pieces_of",
    "place",
    "presence_of",
    "raw_rows",
    "read_manifest",
    "read_registry",
    "reduce",
    "seen",
    "span_of",
    "sweep",
    "write_kept",
    "write_manifest",
    "write_part",
    "write_registry",
]
