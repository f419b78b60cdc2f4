"""The morning page: what is new, what stands open, what cannot be relied on."""

from __future__ import annotations

from typing import Any

import jinja2
import pandas as pd
from markupsafe import Markup

from district import words
from district.render import findings
from district.render.text import bound
from district.results import Morning
from district.schema.event_tables import MORNING_WORDS

NEWS = 40
"""News shown on the page, the most urgent; alarms.csv has all."""
OPEN = 40
"""Alarms to act on shown on the page."""
OTHERS = 20
"""Rows shown of what asks for no action, of repairs, buildings, sensors and devices."""
REPAIR_WORDS = {
    "verified": "worked",
    "partly": "worked in part",
    "another_leak": "worked; another leak remains",
    "not_seen": "not seen in the night flow",
    "too_early": "too early to tell",
}
SENSOR_WORDS = {"flapping": "goes on and off", "always_on": "always in alarm", "silent": "silent"}
_FINDINGS = 12


def morning_page(morning: Morning) -> str:
    """The page as text of HTML that needs neither network nor script."""
    loader = jinja2.PackageLoader("district", "render")
    environment = jinja2.Environment(
        loader=loader,
        autoescape=True,
        finalize=bound,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(day=words.day, words=words.spelled)
    environment.globals.update(
        fig=words.figure, limits=_limits, missing=words.missing, plural=words.plural
    )
    style, _, _ = loader.get_source(environment, "report.css")
    own, _, _ = loader.get_source(environment, "morning.css")
    page = environment.get_template("morning.html").render(
        style=Markup(style + own), **_context(morning)
    )
    return "\n".join(line.rstrip() for line in page.splitlines()) + "\n"


def _context(morning: Morning) -> dict[str, Any]:
    rows = morning.morning
    act = rows["act"].map(words.true).astype(bool)
    news = rows[rows["news"] != "standing"]
    order = {name: at for at, name in enumerate(MORNING_WORDS)}
    news = news.sort_values("news", key=lambda n: n.map(order), kind="stable")
    silent = rows[(rows["about"] == "device") & ~rows["news"].isin(("closed", "withdrawn"))]
    idle = rows[~act & (rows["news"] == "standing") & (rows["about"] == "event")]
    events = morning.events
    repairs = events.repair_checks.sort_values("repaired", ascending=False, kind="stable")
    flows = events.building_checks[events.building_checks["verdict"] == "constant_flow"]
    flows = flows.sort_values("constant_l_s", ascending=False, kind="stable")
    sensors = events.sensor_checks[events.sensor_checks["verdict"] != "sound"]
    limiting = [g for g in findings.gathered(morning.findings) if g.severity != "note"]
    places = dict(zip(rows["place_id"], rows["place"], strict=True))
    return {
        "morning": morning,
        "readings_to": words.moment(morning.readings_to, timezone=morning.timezone),
        "first_run": morning.before is None,
        "news": _rows(news.head(NEWS)),
        "news_count": len(news),
        "to_act": _rows(rows[act].head(OPEN)),
        "act_count": int(act.sum()),
        "idle": _rows(idle.head(OTHERS)),
        "idle_count": len(idle),
        "news_words": MORNING_WORDS,
        "repairs": _rows(repairs.head(OTHERS)),
        "repairs_count": len(repairs),
        "repair_words": REPAIR_WORDS,
        "buildings": _rows(flows.head(OTHERS)),
        "buildings_count": len(flows),
        "sensors": _rows(sensors.head(OTHERS)),
        "sensors_count": len(sensors),
        "sensor_words": SENSOR_WORDS,
        "silent": _rows(silent.head(OTHERS)),
        "silent_count": len(silent),
        "places": places,
        "findings": limiting[:_FINDINGS],
        "findings_count": len(limiting),
        "caution": words.CAUTION,
    }


def _rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(k): v for k, v in row.items()} for row in frame.to_dict("records")]


def _limits(row: dict[str, Any], name: str) -> Markup:
    """A figure for a table cell: the value, and its limits small beneath it."""
    middle, low, high = words.rounded(
        row.get(name), row.get(f"{name}_low"), row.get(f"{name}_high"), name
    )
    if not low:
        return Markup("<b>{}</b>").format(middle) if middle != words.EMPTY else Markup(middle)
    return Markup("<b>{}</b> <small>{} to {}</small>").format(middle, low, high)
