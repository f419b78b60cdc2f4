"""What a click on the map shows: finished HTML, every value escaped here, once."""

from __future__ import annotations

from collections.abc import Iterable
from types import MappingProxyType
from typing import Any

import pandas as pd
from markupsafe import Markup

from district.render import explain
from district.render.drawn import as_image
from district.render.text import escape
from district.words import EMPTY, brief, figure, missing, plural, spelled, true

AUTOMATIC = "automatic_shutoff"
"""Kind of a valve that shuts a building by itself."""
_TURNING = "licensed crew; check fire supply and critical users"
Row = Any
"""A row of a table, as `iterrows` gives it."""


def estimate(row: Row, name: str) -> str:
    """Figure `name` of a row with its limits and unit; '-' where the row lacks it."""
    return figure(row.get(name), row.get(f"{name}_low"), row.get(f"{name}_high"), name)


def card(title: object, pairs: Iterable[tuple[str, object]], *, after: Markup = Markup()) -> str:  # noqa: B008
    """A title and a two-column list; pairs without a value are left out."""
    lines = "".join(
        f"<dt>{escape(label)}</dt><dd>{escape(value)}</dd>"
        for label, value in pairs
        if not missing(value) and value != EMPTY
    )
    return f'<div class="card"><h3>{escape(title)}</h3><dl>{lines}</dl>{after}</div>'


def pipe_card(
    row: Row,
    zone_name: str,
    *,
    walk: str = "",
    likeliest: str = "",
    reach: Row = MappingProxyType({}),
    shut: Iterable[str] = (),
) -> str:
    """A stretch of pipe: where the leak may be, and why (a row of `drawn_stretches`).

    `walk` and `likeliest` say what to walk of it and where along it the leak is; `reach` what
    would be seen of the next leak (a row of DETECTABILITY), `shut` what to shut where it
    breaks, a sentence a segment.
    """
    pairs: list[tuple[str, object]] = [("Zone", zone_name)]
    if not true(row.get("searched")) or missing(row.get("probability_share")):
        none = "not now: no clear excess, or a meter or boundary accounts for it"
        pairs.append(("Search", none))
        pairs.append(("Probability if it leaked", estimate(row, "probability_share")))
    else:
        first = "yes" if true(row.get("in_set")) else "no"
        pairs += [
            ("Probability", estimate(row, "probability_share")),
            ("By 100 m of walk", f"{per_100_m(row)}\u00a0%"),
            ("Order of search", figure(row.get("rank"), name="rank_count")),
            ("Walk first", first),
            ("Walk", walk),
            ("Likeliest place", likeliest),
            ("Likely flow if here", estimate(row, "flow_l_s")),
        ]
    year = row.get("installed_year")
    pairs += [
        ("Length", metres(row.get("length_m"))),
        ("Material", spelled(row.get("material"))),
        ("Inside diameter", figure(row.get("diameter_mm"), name="diameter_mm")),
        ("Laid", "not known" if missing(year) else figure(year, name="installed_year")),
        ("The pipe", row.get("why")),
        ("Smallest leak shown", estimate(reach, "smallest_l_s")),
        (_walk_label(reach), estimate(reach, "walk_m")),
        *_each("If it breaks", shut),
        ("Before a valve is turned", _TURNING if shut else ""),
    ]
    return card(f"Stretch {row['stretch_id']}", pairs)


def _walk_label(reach: Row) -> str:
    size = reach.get("leak_l_s")
    return "Walk to the next leak" if missing(size) else f"Walk to a leak of {brief(size)}\u00a0L/s"


def per_100_m(row: Row) -> str:
    """Probability in per cent by 100 m of walk; to two digits, as its limits are not given."""
    share = row.get("probability_per_100_m_share")
    return EMPTY if missing(share) else brief(100 * share)


def zone_card(
    zone: Row,
    chart: str,
    chart_alt: str,
    *,
    shifted: str = "",
    apparent: bool = False,
    searched: Iterable[str] = (),
    events: Iterable[str] = (),
) -> str:
    """A zone: its figures and its night-flow chart (`zone` is its ZONES row).

    `shifted` says, if so, that a meter or boundary shifts the figures; `apparent`, that one makes
    all of the excess, so that it is like no burst; `searched` what is looked for and what told
    its place, `events` those that stand open within it, a sentence each.
    """
    names = (
        ("Excess", "excess_l_s"),
        ("Night leakage", "leakage_l_s"),
        ("Leakage", "leakage_m3_d"),
        ("By connection", "leakage_l_connection_d"),
        ("Lowest night flow", "minimum_night_flow_l_s"),
        ("Legitimate night use", "legitimate_use_l_s"),
    )
    pairs: list[tuple[str, object]] = [(label, estimate(zone, name)) for label, name in names]
    pairs += [
        *_each("Open events", events),
        ("Figures", shifted),
        (
            "Leakage index",
            estimate(zone, "leakage_index")
            if missing(zone.get("index_note"))
            else f"not valid; {zone.get('index_note')}",
        ),
        ("Excess like", "" if apparent else bursts(zone)),
        *_each("Looked for", searched),
        ("Pressure", metres(zone.get("pressure_m"))),
        ("Mains", figure(zone.get("mains_km"), name="mains_km")),
        ("Connections", figure(zone.get("connections_count"), name="connections_count")),
        ("Nights used", figure(zone.get("nights_count"), name="nights_count")),
    ]
    image = Markup('<img src="{}" alt="{}" width="403" height="216">').format(
        Markup(as_image(chart)), escape(chart_alt)
    )
    return card(f"Zone {zone_title(zone)}", pairs, after=image if chart else Markup())


def bursts(zone: Row) -> str:
    """A zone's excess as a number of burst service pipes, '' below one."""
    count = zone.get("service_bursts_count")
    if missing(count) or count < 1:
        return ""
    return plural(round(float(count)), "burst service pipe")


def zone_title(zone: Row) -> str:
    """Name of a zone with its id where they differ."""
    name, key = zone.get("name"), str(zone["cell_id"])
    return key if missing(name) or name == key else f"{name} ({key})"


def zone_titles(zones: pd.DataFrame) -> dict[str, str]:
    """Zone id -> its title, of a table with cell_id and name."""
    return {str(row["cell_id"]): zone_title(row) for _, row in zones.iterrows()}


def valve_card(valve: Row, *, advice: tuple[str, str] = ("", ""), fails: str = "") -> str:
    """A valve as it stands, and what hangs on it where it does not close (`fails`); `advice` is,
    for one that shuts a building by itself, what to set it to and what must be settled first."""
    stuck = not missing(valve.get("operable")) and not true(valve.get("operable"))
    pairs: list[tuple[str, object]] = [
        ("Kind", spelled(valve.get("kind"))),
        ("State", spelled(valve.get("state"))),
        ("Can be turned", "no" if stuck else "yes"),
    ]
    if valve.get("kind") == AUTOMATIC:
        fails = valve.get("fail_position")
        power = {"open": "it opens", "shut": "it shuts", "stays": "it stays as it is"}
        pairs[0] = ("Kind", "shuts a building by itself")
        pairs += [
            ("Building", valve.get("building_id")),
            ("Without power", power.get(str(fails), "not known: find out")),
            ("Setting", advice[0]),
            ("To settle first", advice[1]),
        ]
    pairs.append(("If it does not close", fails))
    pairs.append(("Before turning", _TURNING))
    return card(f"Valve {valve['valve_id']}", pairs)


def meter_card(
    meter: Row,
    names: dict[str, str],
    *,
    checked: str = "",
    stands: str = "",
    building: object = "",
    events: Iterable[str] = (),
) -> str:
    """A flow meter, the zones on its two sides, and what the meters beside it say of it; of a
    building's what its readings show (`stands`), and its open events."""
    return card(
        f"Meter {meter['meter_id']}",
        [
            ("Role", spelled(meter.get("role"))),
            ("Building", building),
            ("Reports by", spelled(meter.get("kind"))),
            ("Flows from", _zone(meter.get("upstream_cell_id"), names)),
            ("Flows to", _zone(meter.get("downstream_cell_id"), names)),
            ("Against those beside it", checked),
            ("Its readings", stands),
            *_each("Open events", events),
        ],
    )


def sensor_card(
    sensor: Row,
    names: dict[str, str],
    *,
    check: Row | None = None,
    behaves: str = "",
    events: Iterable[str] = (),
) -> str:
    """A logger or sensor; the level sensor of a tank stands for the tank. `check` is how the model
    explains a pressure logger (a row of LOGGER_CHECKS), `behaves` how one that gives alarms does,
    `events` its open alarms."""
    zone = _zone(sensor.get("cell_id"), names)
    if sensor.get("kind") == "tank_level":
        return card(
            f"Tank, level read by {sensor['sensor_id']}",
            [
                ("Zone", zone),
                ("Water surface", figure(sensor.get("surface_m2"), name="surface_m2")),
                ("In the balance", explain.TANK[1]),
            ],
        )
    pairs: list[tuple[str, object]] = [
        ("Kind", spelled(sensor.get("kind"))),
        ("Building", sensor.get("building_id")),
        ("Zone", zone),
        ("Behaves", behaves),
        *_each("Open events", events),
    ]
    if check is not None:
        counts = "yes" if true(check["used"]) else f"no. {check['said']}"
        pairs += [
            ("Counts for where a leak is", counts),
            ("Missed by the model before its fit", estimate(check, "before_m")),
            ("Missed by it after", estimate(check, "after_m")),
            ("Ups and downs of its own", estimate(check, "course_m")),
            ("Reads too high (below 0: too low)", estimate(check, "offset_m")),
        ]
    return card(f"Sensor {sensor['sensor_id']}", pairs)


def source_card(source: Row) -> str:
    """A source or tank."""
    head = figure(source.get("head_m"), name="head_m")
    return card(f"Source {source['source_id']}", [("Head", head)])


def connection_card(connection: Row) -> str:
    """A service connection or building."""
    critical = "critical: agree before cutting off" if true(connection.get("critical")) else ""
    return card(
        f"Connection {connection['connection_id']}",
        [
            ("Use", spelled(connection.get("use_class"))),
            ("Properties", figure(connection.get("properties"), name="properties_count")),
            ("Building", connection.get("building_id")),
            ("Stretch", connection.get("pipe_id")),
            ("Supply", critical),
        ],
    )


def _each(label: str, sentences: Iterable[str]) -> list[tuple[str, object]]:
    """A line for each sentence, the label at the first."""
    return [(label if n == 0 else "", said) for n, said in enumerate(sentences)]


def _zone(key: object, names: dict[str, str]) -> str:
    return "" if missing(key) else names.get(str(key), str(key))


def metres(value: Any) -> str:
    """A length or a head in whole metres."""
    # The map is drawn to about a metre, and a pressure known to no less: decimals promise more.
    return EMPTY if missing(value) else f"{float(value):.0f}\u00a0m"


def by_id(frame: pd.DataFrame, column: str) -> dict[str, Row]:
    """Rows of a table by the value of an id column."""
    return {str(row[column]): row for _, row in frame.iterrows()}
