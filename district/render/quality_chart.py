"""The chart of what became of each device's readings, as SVG text."""

from __future__ import annotations

import math
import warnings
from typing import Any

import numpy as np
import pandas as pd

from district.render import palette
from district.render.drawn import as_svg, styled
from district.schema.stored import FEW_READINGS
from district.words import percent, plural

MOST = 30
"""Devices drawn; of the others only their number is told."""
_SET_ASIDE = (
    "spike_count",
    "stuck_count",
    "reset_count",
    "negative_count",
    "impossible_count",
)
_COUNTS = ("expected_count", "missing_count", "gap_count", *_SET_ASIDE)
_PARTS = {
    "used": ("used", palette.USED, ""),
    "bridged": ("bridged, for volumes only", palette.BRIDGED, ""),
    "missing": ("missing", palette.ABSENT, "//////"),
    "set_aside": ("set aside", palette.SET_ASIDE, ""),
}
"""Part -> its words, colour and hatching, in the order drawn."""
_LONGEST = 14
"""Letters of an id beside a bar; the table has it whole."""
_ROW_IN, _FRAME_IN = 0.22, 0.95


def device_shares(quality: pd.DataFrame) -> pd.DataFrame:
    """What became of the intervals each device should have, shares of one, worst first.

    `quality` is table DEVICE_QUALITY; devices of few readings are left out. Columns: device_id,
    then used, bridged (the reading after a gap: its volume counts, its hour is unknown), missing
    and set_aside, which sum to 1; lost is the sum of the last two.
    """
    counts = quality.reindex(columns=list(_COUNTS)).apply(pd.to_numeric)
    known = (counts["expected_count"] >= FEW_READINGS).to_numpy()
    counts, ids = counts[known].fillna(0.0), quality.loc[known, "device_id"].astype(str)
    aside = counts[list(_SET_ASIDE)].sum(axis="columns")
    taken = counts["gap_count"] + counts["missing_count"] + aside
    # A register set anew may set aside more than a steady step would lead one to expect.
    whole = np.maximum(counts["expected_count"], taken)
    shares = pd.DataFrame(
        {
            "device_id": ids,
            "used": (whole - taken) / whole,
            "bridged": counts["gap_count"] / whole,
            "missing": counts["missing_count"] / whole,
            "set_aside": aside / whole,
        }
    )
    shares["lost"] = shares["missing"] + shares["set_aside"]
    order = ["lost", "bridged", "device_id"]
    return shares.sort_values(order, ascending=[False, False, True], ignore_index=True)


def quality_chart(shares: pd.DataFrame) -> str:
    """A bar a device of what became of its readings, the worst `MOST` of them, as SVG.

    `shares` as `device_shares` gives them. Devices of which all is used have no bar; "" if that
    goes for every one.
    """
    rows = _drawn(shares)
    if rows.empty:
        return ""
    from matplotlib.patches import Patch

    size_in = (5.6, _FRAME_IN + _ROW_IN * len(rows))
    with (
        styled(figsize=size_in, dpi=72, layout="constrained") as drawing,
        warnings.catch_warnings(),
    ):
        # Text stays text: what our font lacks, the reader's may have.
        warnings.filterwarnings("ignore", "Glyph .* missing from")
        axes = drawing.add_subplot()
        _bars(axes, rows)
        _dress(axes, rows)
        drawing.legend(
            handles=[
                Patch(facecolor=colour, hatch=hatch, edgecolor=_edge(colour, hatch), label=label)
                for label, colour, hatch in _PARTS.values()
            ],
            loc="outside lower center",
            ncols=len(_PARTS),
            frameon=False,
            fontsize=10.3,
            handlelength=1.4,
            columnspacing=1.0,
            handletextpad=0.5,
        )
        return as_svg(drawing)


def left_out(shares: pd.DataFrame) -> str:
    """How many devices the chart leaves out, and below what share lost they lie; "" if none."""
    rest = shares.iloc[len(_drawn(shares)) :]
    if rest.empty:
        return ""
    lost = float(rest["lost"].max())
    said = "nothing" if lost == 0 else f"at most {percent(_up(lost), decimals=1)} each"
    return f"And {plural(len(rest), 'more device')} that lost {said}"


def quality_words(shares: pd.DataFrame) -> str:
    """What the chart shows, for a reader who cannot see it."""
    losing = shares[shares["lost"] > 0]
    if losing.empty:
        return f"Readings of {plural(len(shares), 'device')}: none missing or set aside."
    worst = "; ".join(
        f"{row.device_id} {_share(row.missing)} missing, {_share(row.set_aside)} set aside"
        for row in losing.head(3).itertuples()
    )
    return (
        f"Readings of {plural(len(shares), 'device')}, of which {len(losing)} lost some. "
        f"Worst: {worst}. The table below has them all."
    )


def _drawn(shares: pd.DataFrame) -> pd.DataFrame:
    return shares[shares["used"] < 1].head(MOST)


def _bars(axes: Any, rows: pd.DataFrame) -> None:
    at = np.arange(len(rows))
    left = np.zeros(len(rows))
    for name, (_, colour, hatch) in _PARTS.items():
        width = 100 * rows[name].to_numpy(dtype=float)
        some = width > 0
        axes.barh(
            at[some], width[some], left=left[some], height=0.72, color=colour, hatch=hatch,
            edgecolor=_edge(colour, hatch), lw=0.5,
        )  # fmt: skip
        left += width


def _edge(colour: str, hatch: str) -> str:
    return palette.INK if hatch else colour


def _dress(axes: Any, rows: pd.DataFrame) -> None:
    at = np.arange(len(rows))
    axes.set_yticks(at)
    axes.set_yticklabels([_shown(i) for i in rows["device_id"]], parse_math=False, fontsize=11)
    axes.set_ylim(len(rows) - 0.5, -0.5)
    axes.set_xlim(0, 100)
    axes.set_xlabel("% of the readings there should be; at the right, lost")
    axes.tick_params(axis="y", length=0)
    axes.spines[["top", "right", "left"]].set_visible(False)
    for y, lost in zip(at, rows["lost"], strict=True):
        axes.text(101.5, y, _share(lost), va="center", fontsize=11, color=palette.INK)


def _share(share: float) -> str:
    return "0 %" if share == 0 else percent(max(share, 0.001), decimals=0 if share > 0.1 else 1)


def _up(share: float) -> float:
    """The share rounded up to a tenth of a per cent."""
    return math.ceil(share * 1000 - 1e-9) / 1000


def _shown(device_id: str) -> str:
    """The id as it can stand in a drawing: one line, not too long, nothing XML forbids."""
    plain = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in device_id)
    return plain if len(plain) <= _LONGEST else f"{plain[: _LONGEST - 1]}…"
