"""A small district typed by hand: three zones, twelve stretches, awkward names."""

from __future__ import annotations

from copy import deepcopy
from datetime import date
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from district.errors import Finding
from district.results import Balance, Basis, DistrictReport, Events, Layers, Location
from district.schema import (
    annual_tables,
    audited,
    event_tables,
    located,
    night_tables,
    outputs,
    pressures,
    reconciled,
    stored,
)
from district.schema.columns import Table
from district.words import PRESSURE_CAUTION
from tests.render import happenings

CRS = "EPSG:25833"
EAST, NORTH = 401000.0, 5651000.0
SCRIPT = "<script>alert(1)</script>"
BRACES = "{{ 7 * 7 }} {% raw %} ${1+1} `tick`"
ZONES = ("Z1", "Z2", "O'Hara & Söhne")
NAMES = {"Z1": f"Upper {SCRIPT}", "Z2": f'Mühlgasse "alt" & {BRACES}', ZONES[2]: "Žižkov-Süd"}
# Two parts of one pipe, and a pipe with an awkward name.
PARTS = {
    (0, 1): (f'P11/{SCRIPT}"&',) * 2,
    (1, 1): ("P21/1", "P21"),
    (1, 2): ("P21/2", "P21"),
}
FIRST, LAST = date(2031, 3, 1), date(2031, 4, 29)


def table(declared: Table, rows: list[dict[str, object]]) -> pd.DataFrame:
    """Rows as a frame with exactly the declared columns."""
    return pd.DataFrame(rows).reindex(columns=list(declared.names()))


def three(name: str, value: float, half: float) -> dict[str, object]:
    return {name: value, f"{name}_low": value - half, f"{name}_high": value + half}


def counts(*given: int) -> dict[str, object]:
    """The counts of table DEVICE_QUALITY, in its order."""
    names = ("expected", "missing", "gap", "spike", "stuck", "reset", "negative", "impossible")
    return {f"{n}_count": float(g) for n, g in zip(names, given, strict=True)}


def frame(rows: list[dict[str, object]]) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS)


def points(columns: str, *rows: tuple[object, ...]) -> gpd.GeoDataFrame:
    """Rows as a layer; the last of each is its place in metres from the corner."""
    names = columns.split()
    return frame(
        [
            {
                **dict(zip(names, values, strict=True)),
                "geometry": Point(EAST + x, NORTH + y),
            }
            for *values, (x, y) in rows
        ]
    )


def layers() -> Layers:
    pipes = []
    for k, zone in enumerate(ZONES):
        x = 500.0 * k
        lines = [
            [(x, 0), (x + 250, 20)],
            [(x + 250, 20), (x + 480, 0)],
            [(x + 250, 20), (x + 230, 260)],
            [(x + 230, 260), (x + 460, 300)],
        ]
        for n, line in enumerate(lines, 1):
            pipe_id, layer_pipe_id = PARTS.get((k, n), (f"P{k + 1}{n}",) * 2)
            pipes.append(
                {
                    "pipe_id": pipe_id,
                    "layer_pipe_id": layer_pipe_id,
                    "cell_id": zone,
                    "material": ("cast_iron", "pvc", "asbestos_cement", "unknown")[n - 1],
                    "diameter_mm": (150.0, 110.0, 100.0, 80.0)[n - 1],
                    "installed_year": (1962.0, 1994.0, 1971.0, np.nan)[n - 1],
                    "length_m": LineString(line).length,
                    "geometry": LineString([(EAST + a, NORTH + b) for a, b in line]),
                }
            )

    outline = [
        box(EAST + 500 * k - 10, NORTH - 60, EAST + 500 * k + 485, NORTH + 340) for k in range(3)
    ]
    return Layers(
        pipes=frame(pipes),
        zones=frame(
            [
                {"cell_id": z, "name": NAMES[z], "geometry": g}
                for z, g in zip(ZONES, outline, strict=True)
            ]
        ),
        valves=points(
            "valve_id kind state operable building_id fail_position",
            ("V1", "isolation", "open", True, "", "", (100, 8)),
            ("V2", "boundary", "shut", True, "", "", (480, 0)),
            ("V<3>", "isolation", "open", False, "", "", (740, 60)),
            ("V4", "isolation", "shut", False, "", "", (1235, 200)),
            ("AV<1>", "automatic_shutoff", "open", True, "Hall", "stays", (705, 150)),
        ),
        meters=points(
            "meter_id role kind upstream_cell_id downstream_cell_id",
            ("M1", "inlet", "pulse", "", "Z1", (0, 0)),
            ("M2", "transfer", "electromagnetic", "Z1", "Z2", (500, 0)),
            ("M&B", "building", "register", "", "", (700, 140)),
        ),
        sensors=points(
            "sensor_id kind cell_id",
            ("S1", "pressure", "Z1", (235, 200)),
            ("S2", "acoustic", "Z2", (900, 280)),
            ("S3", "wet_floor", "Z2", (705, 150)),
            ("TL<1>", "tank_level", "Z1", (60, 200)),
        ),
        connections=points(
            "connection_id cell_id pipe_id use_class properties critical building_id",
            *(
                (f"C{n}", "Z1", "P12", "household", 1 + n, n == 2, "", (280 + 40 * n, 35))
                for n in range(4)
            ),
        ),
        sources=points("source_id head_m", (f"Spring & tank {SCRIPT}", 62.0, (-80, 10))),
    )


def nights() -> pd.DataFrame:
    rows = []
    for k, zone in enumerate(ZONES):
        for n, night in enumerate(pd.date_range(FIRST, LAST)):
            gap = 20 <= n <= 23 and k == 0
            leak = 0.4 + 0.05 * k + (1.1 if k == 0 and n >= 35 else 0.0) + 0.03 * np.sin(n * 1.7)
            use = 0.55 + 0.02 * np.cos(n)
            rows.append(
                {
                    "cell_id": zone,
                    "night": night,
                    "status": "no_inflow" if gap else "measured",
                    **({} if gap else three("inflow_l_s", leak + use, 0.03)),
                    **({} if gap else three("minimum_night_flow_l_s", leak + use - 0.05, 0.03)),
                    **three("measured_use_l_s", 0.1, 0.01),
                    **three("allowed_use_l_s", use - 0.1, 0.18),
                    **three("legitimate_use_l_s", use, 0.18),
                    **({} if gap else three("leakage_l_s", leak, 0.19)),
                    **three("background_l_s", 0.3, 0.1),
                    **({} if gap else three("excess_l_s", leak - 0.3, 0.23)),
                    "pressure_m": 41.0,
                    **three("night_day_factor_h_d", 21.4, 1.1),
                    **({} if gap else three("leakage_m3_d", leak * 3.6 * 21.4, 16.0)),
                    "works": "flushing" if k == 0 and n == 12 else "",
                }
            )
    return table(outputs.NIGHTS, rows)


def annual() -> pd.DataFrame:
    lines = [
        ("System input volume", 0, 730000.0, 9000.0, "measured", np.nan),
        ("Authorised consumption", 1, 560000.0, 8200.0, "measured", np.nan),
        ("Billed authorised consumption", 2, 556350.0, 8000.0, "measured", 1001430.0),
        ("Unbilled authorised consumption", 2, 3650.0, 1825.0, "assumed", 2920.0),
        ("Water losses", 1, 170000.0, 12200.0, "difference", np.nan),
        ("Apparent losses", 2, 13125.0, 6000.0, "assumed", 23625.0),
        ("Unauthorised consumption", 3, 1825.0, 912.0, "assumed", 3285.0),
        ("Customer meter under-registration", 3, 11300.0, 5900.0, "assumed", 20340.0),
        ("Real losses", 2, 156875.0, 13600.0, "difference", 125500.0),
    ]
    return table(
        outputs.ANNUAL,
        [
            {
                "cell_id": cell,
                "component": name,
                "level": level,
                **three("volume_m3", value * share, half * share),
                "rests_on": rests,
                "value_currency": money * share,
            }
            for cell, share in (("district", 1.0), ("Z1", 0.5))
            for name, level, value, half, rests, money in lines
        ],
    )


def zones() -> pd.DataFrame:
    rows = []
    for k, zone in enumerate(ZONES):
        excess = (1.2, 0.15, 0.05)[k]
        rows.append(
            {
                "cell_id": zone,
                "name": NAMES[zone],
                "parent_cell_id": "Z1" if k == 1 else "",
                "mains_km": 1.0,
                "connections_count": 60,
                "properties_count": 82,
                "nights_count": 24 if k == 0 else 28,
                **three("inflow_m3_d", 160.0 - 20 * k, 4.0),
                **three("minimum_night_flow_l_s", excess + 0.8, 0.03),
                **three("legitimate_use_l_s", 0.55, 0.18),
                **three("leakage_l_s", excess + 0.3, 0.19),
                **three("background_l_s", 0.3, 0.1),
                **three("excess_l_s", excess, 0.23),
                **three("night_day_factor_h_d", 21.4, 1.1),
                **three("leakage_m3_d", (excess + 0.3) * 77, 16.0),
                **three("leakage_l_connection_d", (excess + 0.3) * 77000 / 60, 270.0),
                **three("leakage_m3_km_d", (excess + 0.3) * 77, 16.0),
                "pressure_m": 41.0,
                **three("leakage_index", (excess + 0.3) * 8, 1.9),
                "index_note": "fewer than 3000 connections" if k else "",
                "target_band": "" if k else "D",
            }
        )
    return table(outputs.ZONES, rows)


def events() -> pd.DataFrame:
    def row(n: int, **said: object) -> dict[str, object]:
        return {
            "event_id": f"E{n}",
            "place_kind": "zone",
            "place_id": "Z1",
            "cell_id": "Z1",
            "state": "open",
            "start": pd.Timestamp("2031-04-05"),
            # People are told the latter.
            "start_low": pd.Timestamp("2031-04-04"),
            "start_high": pd.Timestamp("2031-04-05"),
            "since_first": pd.Timestamp("2031-04-03"),
            "since_last": pd.Timestamp("2031-04-06"),
            "detected": pd.Timestamp("2031-04-07"),
            "end": pd.NaT,
            **three("size_l_s", 1.1, 0.12),
            "growth_l_s_d": 0.0,
            **three("run_d", 25.0, 1.6),
            **three("volume_m3", 2300.0, 260.0),
            **three("cost_currency", 1840.0, 210.0),
            "support": "flow",
            "rank": n,
            "act": True,
            **said,
        }

    return table(
        event_tables.EVENTS,
        [
            row(1, kind="leak", kind_share=0.92,
                reason=f"night flow rose in one night and stayed {SCRIPT}"),
            row(2, kind="building_flow", place_kind="building", place_id="M&B", cell_id="Z2",
                reason="flow never stops at night", **three("size_l_s", 0.08, 0.02)),
            row(3, kind="use", state="explained", rank=np.nan, end=pd.Timestamp("2031-03-13"),
                start=pd.Timestamp("2031-03-13"), act=False, reason="flushing recorded that night"),
        ],
    )  # fmt: skip


def likelihood(pipes: gpd.GeoDataFrame) -> pd.DataFrame:
    shares = {"Z1": (0.58, 0.27, 0.11, 0.04), "Z2": (0.1, 0.2, 0.3, 0.4)}
    rows = []
    for zone, given in shares.items():
        for share, (_, pipe) in zip(given, pipes[pipes.cell_id == zone].iterrows(), strict=True):
            rows.append(
                {
                    "pipe_id": pipe.pipe_id,
                    "stretch_id": pipe.layer_pipe_id,
                    "cell_id": zone,
                    "length_m": pipe.length_m,
                    **three("prior_leaks_per_year", 0.02, 0.01),
                    "probability_share": share,
                    "probability_share_low": share * 0.6,
                    "probability_share_high": min(share * 1.5, 1.0),
                    "probability_per_100_m_share": share / pipe.length_m * 100,
                    "in_set": share > 0.1 or pipe.pipe_id == "P21/1",
                    "along_m": pipe.length_m / 2,
                    "along_m_low": pipe.length_m * 0.025,
                    "along_m_high": pipe.length_m * 0.975,
                    **three("flow_l_s", 1.2 if zone == "Z1" else 0.15, 0.23),
                    "why": "pressure fell most near here; old cast iron"
                    if pipe.pipe_id != "P12"
                    else f"many breaks {BRACES} {SCRIPT}",
                }
            )
    frame = table(outputs.LIKELIHOOD, rows).sort_values("probability_share", ascending=False)
    frame["rank"] = range(1, len(frame) + 1)
    return frame.reset_index(drop=True)


def stretches(parts: pd.DataFrame) -> pd.DataFrame:
    """Parts summed by stretch."""
    summed = ["length_m", *(n for n in parts if n.startswith(("prior_", "probability_share")))]
    frame = parts.groupby("stretch_id", sort=False).agg(
        {
            "cell_id": "first",
            "pipe_id": "count",
            **dict.fromkeys(summed, "sum"),
            "in_set": "first",
            **{n: "first" for n in parts if n.startswith("flow_")},
            "why": "first",
        }
    )
    frame["probability_per_100_m_share"] = frame["probability_share"] / frame["length_m"] * 100
    frame = frame.rename(columns={"pipe_id": "parts_count"}).reset_index()
    frame = frame.sort_values("probability_share", ascending=False, kind="stable")
    frame["rank"] = range(1, len(frame) + 1)
    walked = frame["in_set"].astype(bool)
    frame["from_m"] = np.where(walked, 0.0, np.nan)
    frame["to_m"] = np.where(walked, frame["length_m"], np.nan)
    frame["sought_ids"] = np.where(walked, np.where(frame["cell_id"] == "Z1", "E1", "Z2"), "")
    for name, share in (("along_m", 0.5), ("along_m_low", 0.025), ("along_m_high", 0.975)):
        frame[name] = share * frame["length_m"]
    # Of the likeliest stretch the readings tell the place, and a piece of it is walked.
    top = frame["rank"] == 1
    frame.loc[top, ["along_m", "along_m_low", "along_m_high"]] = 34.0, 20.0, 51.0
    frame.loc[top, ["from_m", "to_m"]] = 12.0, 62.0
    return frame.reset_index(drop=True).reindex(columns=list(outputs.STRETCHES.names()))


def evidence() -> pd.DataFrame:
    def row(sought_id: str, kind: str, said: str, *figures: object) -> dict[str, object]:
        names = ("used", "walk_m", "walk_without_m", "moved_share")
        cell = "Z1" if sought_id == "E1" else sought_id
        shown = dict(zip(names, figures, strict=True))
        return {"sought_id": sought_id, "cell_id": cell, "kind": kind, "said": said, **shown}

    return table(
        located.EVIDENCE,
        [
            row("E1", "prior", "By 3 earlier breaks.", True, 812.0, 700.0, 0.12),
            row("E1", "size", "Its size tells nothing.", False, 812.0, 730.0, 0.0),
            row("E1", "pressure", f"S1 fell by 0.4 m {SCRIPT}", True, 730.0, 815.0, 0.43),
            row("E1", "survey", "Nothing found on 2 pipes.", True, 730.0, 730.0, 0.004),
            row("Z2", "prior", "By 0 earlier breaks.", True, 700.0, 710.0, 0.05),
            row("Z2", "sighting", f"Before it began {BRACES}", False, 700.0, 700.0, 0.0),
        ],
    )


def logger_tables() -> dict[str, pd.DataFrame]:
    """S1 counts, another does not."""
    return {
        "logger_checks": table(
            located.LOGGER_CHECKS,
            [
                {"sensor_id": "S1", "cell_id": "Z1", "hours_count": 672,
                 **three("offset_m", 0.3, 0.5), "before_m": 0.8, "after_m": 0.05,
                 "course_m": 0.9, "used": True, "said": ""},
                {"sensor_id": "S<9>", "cell_id": "Z2", "hours_count": 700,
                 **three("offset_m", -1.2, 0.5), "before_m": 2.1, "after_m": 1.9,
                 "course_m": 0.6, "used": False, "said": f"It jumps by 2 m {SCRIPT}"},
            ],
        ),
        "calibration": table(
            located.CALIBRATION,
            [{"group": f"cast iron {BRACES}", "pipes_km": 1.2, "roughness": 85.0,
              **three("factor_index", 0.8, 0.2), "rests_on": "readings"}],
        ),
    }  # fmt: skip


def ahead_tables(pipes: gpd.GeoDataFrame) -> dict[str, pd.DataFrame]:
    """What would be seen of the next leak; nothing on the last pipe."""
    seen = {"nights_count": 14, "leak_l_s": 1.0}
    rows = [
        {"pipe_id": pipe.pipe_id, "cell_id": pipe.cell_id, **seen,
         **(three("smallest_l_s", 0.06 + 0.04 * n, 0.02) if n < len(pipes) - 1 else {}),
         "shown_by": "" if n == len(pipes) - 1 else "inflow" if n % 2 else "pressure",
         **three("walk_m", 40.0 + 100 * n, 30.0), "walk_share": 0.04}
        for n, pipe in enumerate(pipes.itertuples())
    ]  # fmt: skip
    return {
        "detectability": table(located.DETECTABILITY, rows),
        "zone_reach": table(
            located.ZONE_REACH,
            [
                {"cell_id": cell, "leak_l_s": size,
                 "shown_share": shown, "shown_share_low": 0.8 * shown,
                 "shown_share_high": min(1.0, 1.2 * shown),
                 **three("walk_share", 0.3 - size / 20, 0.05)}
                for cell, shown in (("Z1", 1.0), ("Z2", 0.6)) for size in (0.2, 1.0)
            ],
        ),
        "next_devices": table(
            located.NEXT_DEVICES,
            [
                {"rank": 2, "kind": "zone_meter", "pipe_id": "P13", "pipe_2_id": "P14",
                 "cell_id": "Z1", **three("walk_before_m", 300.0, 60.0),
                 **three("walk_after_m", 240.0, 50.0), "leak_l_s": 1.0, "gain_share": 0.2},
                {"rank": 1, "kind": "pressure_logger", "pipe_id": "P21/2", "pipe_2_id": "",
                 "cell_id": "Z2", **three("walk_before_m", 400.0, 60.0),
                 **three("walk_after_m", 250.0, 50.0), "leak_l_s": 1.0, "gain_share": 0.375},
            ],
        ),
    }  # fmt: skip


def reconciled_tables() -> dict[str, pd.DataFrame]:
    """M2 reads too little, M1 has nothing beside it to check it by."""
    return {
        "meter_checks": table(
            reconciled.METER_CHECKS,
            [
                {
                    "meter_id": "M1", "upstream_cell_id": "", "downstream_cell_id": "Z1",
                    **three("flow_m3_d", 300.0, 6.0), "verdict": "cannot_be_checked",
                    "reason": "Only one side of it is balanced", "act": False,
                },
                {
                    "meter_id": "M2", "upstream_cell_id": "Z1", "downstream_cell_id": "Z2",
                    **three("flow_m3_d", 120.0, 3.0), **three("reconciled_m3_d", 141.0, 4.0),
                    "verdict": "off", "since": pd.Timestamp("2031-03-20"),
                    "since_low": pd.Timestamp("2031-03-19"),
                    "since_high": pd.Timestamp("2031-03-21"), **three("off_share", -0.15, 0.06),
                    "reason": f"zone Z1 seems to gain what zone Z2 loses {SCRIPT}", "act": True,
                },
            ],
        ),
        "zone_checks": table(
            reconciled.ZONE_CHECKS,
            [
                {"cell_id": "district", "statistic_index": 3.1, "critical_index": 6.0,
                 "verdict": "agrees", "reason": "Night and day of 3 zones agree", "act": False},
                {"cell_id": ZONES[2], "statistic_index": 14.0, "critical_index": 8.0,
                 "verdict": "does_not_close", "reason": "By day 0.2 L/s more flows in",
                 "act": False},
            ],
        ),
        "without_meter": table(
            reconciled.WITHOUT_METER,
            [
                {"meter_id": "M2", "cell_id": cell, "nights_count": 40,
                 **three("leakage_l_s", read, 0.1), **three("corrected_leakage_l_s", right, 0.1),
                 **three("joint_leakage_l_s", 1.9, 0.2)}
                for cell, read, right in (("Z1", 1.5, 1.26), ("Z2", 0.4, 0.64))
            ],
        ),
    }  # fmt: skip


def night_tables_made() -> dict[str, pd.DataFrame]:
    return {
        "seven_nights": table(
            night_tables.SEVEN_NIGHTS,
            [
                {"cell_id": "Z1", "night": night, "nights_count": 7,
                 **three("minimum_night_flow_l_s", 0.9, 0.05), **three("leakage_l_s", 0.4, 0.2)}
                for night in pd.date_range("2031-03-07", LAST)
            ],
        ),
        "night_periods": table(
            night_tables.NIGHT_PERIODS,
            [
                {"cell_id": cell, "period_kind": kind, "period": period, "nights_count": 30,
                 "days_count": 24, **three("minimum_night_flow_l_s", 0.9 + rise, 0.05),
                 **three("leakage_l_s", 0.41 + rise, 0.2)}
                for cell, kind, period, rise in (
                    ("Z2", "month", "2031-04", 0.0), ("Z1", "month", "2031-03", 0.0),
                    ("Z1", "month", "2031-04", 1.1), ("Z1", "week", "2031-W10", 0.0),
                )
            ],
        ),
        "night_users": table(
            night_tables.NIGHT_USERS,
            [
                {"meter_id": "M&B", "cell_id": "Z2", "role": "building", "use_class": "hotel",
                 "properties_count": 1, "nights_count": 28, **three("night_use_l_s", 0.31, 0.01),
                 "allowance_l_s": 0.02, **three("zone_share", 0.4, 0.05),
                 "reason": f"never stops {SCRIPT}"}
            ],
        ),
    }  # fmt: skip


def yearly_tables() -> dict[str, pd.DataFrame]:
    money = {"district": 105.0, "Z1": 74.0, "Z2": 9.0}
    return {
        "economics": table(
            annual_tables.ECONOMICS,
            [
                {"cell_id": cell, "rank": rank, "statement": f"A survey of {cell} pays.",
                 **three("rise_m3_d_year", 12.0, 9.0), "rise_note": "from 8 weeks",
                 "survey_currency": 200.0,
                 **(three("survey_interval_months", 14.0, 5.0) if cell != "Z2"
                    else {"survey_interval_months_low": 7.0}),
                 **three("excess_m3_d", money[cell] / 0.8, 10.0),
                 **three("excess_day_currency", money[cell], 8.0),
                 **three("payback_d", 200.0 / money[cell], 1.0)}
                for cell, rank in (("district", np.nan), ("Z2", 2), ("Z1", 1))
            ],
        ),
        "loss_gaps": table(
            annual_tables.LOSS_GAPS,
            [
                {"cell_id": cell, **three("top_down_m3", top, 9000.0),
                 **three("bottom_up_m3", 120000.0, 9000.0),
                 **three("gap_m3", top - 120000.0, 13000.0), "agrees": top < 130000.0,
                 "statement": "The two ways agree." if top < 130000.0 else "An input is not so."}
                for cell, top in (("Z1", 121000.0), ("district", 156875.0), ("Z2", 150000.0))
            ],
        ),
        "gap_causes": table(
            annual_tables.GAP_CAUSES,
            [
                {"cell_id": cell, "rank": rank, "input": f"cause {rank} of {cell}", "value": 2.0,
                 "closing_value": 3.5, "unit": "%", "deviations_index": 1.0 + rank,
                 "possible": rank != 2}
                for cell in ("Z1", "Z2", "district") for rank in (1, 2, 3, 4, 5)
            ],
        ),
    }  # fmt: skip


def pressure_tables() -> dict[str, pd.DataFrame]:
    said = "Night pressure did not step. "
    return {
        "zone_pressure": table(
            pressures.ZONE_PRESSURE,
            [
                {"cell_id": cell, **three("pressure_m", 41.0, 2.0),
                 **three("night_pressure_m", 44.0, 2.0), "loggers_count": loggers,
                 "rests_on": "logger" if loggers else "assumed", "exponent_index": 1.15,
                 "exponent_index_low": 0.5, "exponent_index_high": 1.5,
                 **three("saving_m3_year", 640.0, 250.0),
                 **three("saving_currency_year", 510.0, 200.0), "basis": said + PRESSURE_CAUTION}
                for cell, loggers in (("Z1", 1), ("Z2", 0))
            ],
        ),
        "zone_exponents": table(
            pressures.ZONE_EXPONENTS,
            [{"cell_id": "Z1", "rests_on": "default"}, {"cell_id": "Z2", "rests_on": "both"}],
        ),
    }  # fmt: skip


def improvements() -> pd.DataFrame:
    return table(
        audited.IMPROVEMENTS,
        [
            {"cell_id": cell, "figure": "daily leakage", "rank": rank,
             "input": f"input {rank} of {cell} {SCRIPT if rank == 1 else ''}", "kind": "measured",
             "source": "readings", "variance_share": share, **three("leakage_m3_d", 115.0, 9.0),
             "narrower_share": share / 2}
            for cell in ("Z2", "Z1", "district")
            for rank, share in ((2, 0.25), (1, 0.6), (3, 0.1), (4, 0.05))
        ],
    )  # fmt: skip


def build() -> DistrictReport:
    """The hand-made report; new frames at every call."""
    drawn = layers()
    everything = nights()
    basis = Basis(
        first=FIRST,
        last=LAST,
        meters=("M1", "M2"),
        assumptions=("Household night use is 1.7 L/property/h (±40 %) where no meter tells it.",),
        limits=("Z1: 4 nights without inflow readings.",),
    )
    findings = (
        Finding("error", "meters.csv", "row 3", "role", '"inn"', "inlet or outlet", "Correct it"),
        *(
            Finding(
                "warning",
                f"readings/{SCRIPT}.csv",
                f"row {n}",
                "value",
                "-4",
                "a rising register",
                "Check the meter",
            )
            for n in range(40)
        ),
        Finding("note", "zones.geojson", "zone Z2", got="12 m off", expected="on the meters"),
    )
    return DistrictReport(
        name=f"Lindental & {SCRIPT}",
        currency="EUR",
        timezone="Europe/Vienna",
        layers=drawn,
        balance=Balance(
            nights=everything,
            days=table(
                outputs.DAYS,
                [
                    {"cell_id": "Z1", "day": pd.Timestamp(FIRST), "inflow_m3": 160.0,
                     "consumption_m3": 110.0, "losses_m3": 45.0, "residual_m3": 5.0}
                ],
            ),
            zones=zones(),
            annual=annual(),
            indicators=table(
                outputs.INDICATORS,
                [
                    {
                        "cell_id": cell,
                        **three("real_losses_m3", 156875.0, 13600.0),
                        "unavoidable_losses_m3": 21000.0,
                        **three("leakage_index", 7.5, 0.7),
                        "index_note": note,
                        **three("leakage_l_connection_d", 410.0, 40.0),
                        **three("leakage_m3_km_d", 24.0, 2.1),
                        **three("non_revenue_share", 0.24, 0.02),
                        "pressure_m": 41.0,
                        "target_band": band,
                    }
                    for cell, note, band in (("district", "", "C"), ("Z1", "fewer than 3000", ""))
                ],
            ),
            basis=basis,
            **reconciled_tables(),
            **night_tables_made(),
            **yearly_tables(),
            **pressure_tables(),
            improvements=improvements(),
        ),
        events=Events(
            events(),
            basis,
            causes=happenings.causes(),
            repair_checks=happenings.repair_checks(),
            building_checks=happenings.building_checks(),
            sensor_checks=happenings.sensor_checks(),
        ),
        shut_off=happenings.shut_off(),
        location=Location(
            likelihood(drawn.pipes),
            stretches(likelihood(drawn.pipes)),
            table(
                outputs.SEARCH_SETS,
                [
                    {"sought_id": "E1", "leak": "", "start": pd.Timestamp("2031-04-05"),
                     "cell_id": "Z1", **three("flow_l_s", 1.2, 0.23), "held_share": 0.96,
                     "pipes_count": 3, "set_km": 0.73, "mains_km": 0.96, "set_share": 0.76,
                     "gap_m": 12.0},
                    {"sought_id": "Z2", "leak": "",
                     "cell_id": "Z2", **three("flow_l_s", 0.15, 0.23), "held_share": 0.9,
                     "pipes_count": 3, "set_km": 0.7, "mains_km": 0.96, "set_share": 0.73,
                     "gap_m": 0.0},
                ],
            ),
            basis,
            evidence=evidence(),
            **logger_tables(),
            **ahead_tables(drawn.pipes),
        ),
        quality=table(
            stored.DEVICE_QUALITY,
            [
                {"device_id": "M1", "kind": "pulse", "first_utc": pd.Timestamp("2031-02-28T23:00Z"),
                 "last_utc": pd.Timestamp("2031-04-29T21:45Z"), "step_h": 0.25,
                 "readings_count": 5400, "missing_share": 0.063, "unusable_share": 0.0012,
                 "resolution_m3": 0.01, **counts(5760, 363, 9, 4, 2, 1, 0, 0)},
                {"device_id": "=SUM(A1)", "first_utc": pd.Timestamp("2031-02-28T23:00Z"),
                 "last_utc": pd.Timestamp("2031-04-29T21:45Z"), "step_h": 1.0,
                 "readings_count": 1400, "missing_share": 0.0, "unusable_share": 0.0,
                 "resolution_m3": 1.0, **counts(1440, 0, 0, 0, 0, 0, 0, 0)},
            ],
        ),
        defaults=pd.DataFrame(
            {"table": ["pipes"], "column": ["diameter_mm"], "rows_count": [3], "value": ["100.0"]}
        ),
        findings=findings,
    )  # fmt: skip


@pytest.fixture(scope="session")
def built() -> DistrictReport:
    """Made once; not to be changed."""
    return build()


@pytest.fixture
def report(built: DistrictReport) -> DistrictReport:
    return deepcopy(built)


@pytest.fixture(scope="session")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All pages of the hand-made report, written once."""
    from district.render import write_pages

    out = tmp_path_factory.mktemp("pages") / "maps"
    write_pages(build(), out)
    return out
