"""Readings kept as Parquet in the district folder, and reduced in SQL."""

from district.store.freshness import fingerprint, is_current, place
from district.store.keep import load_findings, load_quality, save
from district.store.reductions import reduce

__all__ = [
    "fingerprint",
    "is_current",
    "load_findings",
    "load_quality",
    "place",
    "reduce",
    "save",
]
