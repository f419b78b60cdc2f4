"""The small folder with two months of readings, a file a week, and a leak that begins in zone A."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from pathlib import Path

from tests.bad_inputs.small_folder import make_folder

FIRST = datetime(2025, 2, 1)
"""Before the change to summer time (2025-03-30), so that the readings pass it."""
LEAK = datetime(2025, 3, 20)
SETTINGS = """\
[district]
name = "Small"
timezone = "Europe/Zurich"
currency = "CHF"

[[readings]]
files = "readings/zones*.csv"
timezone = "UTC"

[[readings]]
files = "readings/others*.csv"
layout = "wide"
timezone = "UTC"
"""


def make_long(folder: Path, *, days: int = 56) -> Path:
    """The folder with `days` days of readings from 2025-02-01 on."""
    make_folder(folder)
    for old in (folder / "readings").iterdir():
        old.unlink()
    (folder / "district.toml").write_text(SETTINGS)
    (folder / "works.csv").write_text("start,end,kind,place_id,note\n")
    for week in range(math.ceil(days / 7)):
        add_days(folder, 7 * week, min(7 * week + 7, days))
    return folder


def add_days(folder: Path, first: int, last: int, *, devices: str = "MA MB CM1 PL1 WF1") -> Path:
    """A new file of zone meters, and one of the others, of days `first` to `last`."""
    zones, named = ["device_id,time,value"], [d for d in ("CM1", "PL1", "WF1") if d in devices]
    others = [",".join(["time", *named])]
    for hour in range(24 * first, 24 * last):
        time = FIRST + timedelta(hours=hour + 1)
        wave = 1 + math.sin(2 * math.pi * (hour % 24 - 8) / 24)
        noise = ((hour * 7919) % 101) / 101 - 0.5
        leak = 0.5 if time > LEAK else 0.0
        said = f"{time:%Y-%m-%d %H:%M}"
        if "MA" in devices:
            zones += [f"MA,{said},{1.2 + 0.4 * wave + 0.06 * noise + leak:.2f}"]
        if "MB" in devices:
            zones += [f"MB,{said},{120 + round(40 * wave + 8 * noise)}"]
        # The users draw from 6 to 18 o'clock only: a meter that never stood would be news itself.
        drawn = 12 * (hour // 24) + min(max(hour % 24 - 5, 0), 12)
        values = {"CM1": f"{1200 + 0.1 * drawn:.2f}", "PL1": f"{48 - 3 * wave:.1f}", "WF1": "0"}
        others += [",".join([said, *(values[d] for d in named)])]
    path = folder / f"readings/zones_{first:03d}.csv"
    path.write_text("\n".join(zones) + "\n")
    if named:
        (folder / f"readings/others_{first:03d}.csv").write_text("\n".join(others) + "\n")
    return path
