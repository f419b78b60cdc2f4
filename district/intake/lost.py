"""What is missing from the devices' records, and what cleaning set aside, told by file."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from district.errors import Finding
from district.intake.devices import Device
from district.intake.flows import NEGATIVE, RESET, SPIKE, STUCK, Flow
from district.results import Inputs
from district.words import percent, places, plural

_MISSING_SHARE = 0.05
_FEW = 20
"""Of fewer readings a missing one is no share worth telling."""
_FLAWS = {
    SPIKE: "far beyond all others of the same device",
    STUCK: "of a value that stood still for hours",
    RESET: "at which a register fell, as after a change of meter",
    NEGATIVE: "below the one before",
}


def silent(read: Collection[int], devices: list[Device], inputs: Inputs) -> list[Finding]:
    """Devices that no reading file speaks of; `read` are the positions of those with readings."""
    return [
        Finding(
            "warning",
            inputs.files.get(f"{device.word}s", f"{device.word}s"),
            f"{device.word} {device.device_id}",
            got="no readings",
            expected="readings in one of the reading files",
            remedy="Add its readings, or correct its id",
        )
        for i, device in enumerate(devices)
        if i not in read
    ]


def missing(
    flows: Mapping[int, Flow], devices: list[Device], sources: Mapping[int, str]
) -> list[Finding]:
    """Devices that lack more than a small share of their readings.

    `flows` and `sources` (what their files are called) by position in `devices`.
    """
    shares = {
        i: f.missing_count / f.expected_count
        for i, f in flows.items()
        if f.expected_count >= _FEW and devices[i].kind != "wet_floor"
    }
    return [
        Finding(
            "warning",
            sources[i],
            f"{devices[i].word} {devices[i].device_id}",
            got=f"{percent(share, decimals=0)} missing",
            expected=f"at most {percent(_MISSING_SHARE)} of its readings missing",
            remedy="Look for them; times without readings are left out",
        )
        for i, share in shares.items()
        if share > _MISSING_SHARE
    ]


def flagged(
    flows: Mapping[int, Flow], devices: list[Device], sources: Mapping[int, str]
) -> list[Finding]:
    """What cleaning set aside: one note a file and flaw; parameters as of `missing`."""
    found: dict[tuple[str, str, int], list[tuple[str, int]]] = {}
    for i, f in flows.items():
        for code in _FLAWS:
            count = int((f.quality == code).sum())
            if count:
                key = (sources[i], devices[i].word, code)
                found.setdefault(key, []).append((devices[i].device_id, count))
    return [
        Finding(
            "note",
            file,
            places(word, [device_id for device_id, _ in hits]),
            got=f"{plural(count := sum(n for _, n in hits), 'reading')} {_FLAWS[code]}",
            expected="none",
            remedy=f"Nothing need be done; {'it is' if count == 1 else 'they are'} left out",
        )
        for (file, word, code), hits in sorted(found.items())
    ]
