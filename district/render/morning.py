"""The morning page: what is new, what stands open, what cannot be relied on."""

from __future__ import annotations

from functools import cache
from typing import Any

import jinja2

from district import words
from district.render import findings
from district.render.explain import REPAIR_WORDS, SENSOR_WORDS
from district.render.templates import environment, finished, row_dicts, styles
from district.results import Morning
from district.schema.event_tables import MORNING_WORDS

NEWS = 40
"""News shown on the page, the most urgent; alarms.csv has all."""
OPEN = 40
"""Alarms to act on shown on the page."""
OTHERS = 20
"""Rows shown of what asks for no action, of repairs, buildings, sensors and devices."""
_FINDINGS = 12


def morning_page(morning: Morning) -> str:
    """The page as text of HTML that needs neither network nor script."""
    style = styles("report.css", "morning.css")
    return finished(_template().render(style=style, **_context(morning)))


@cache
def _template() -> jinja2.Template:
    return environment().get_template("morning.html")


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
        "news": row_dicts(news.head(NEWS)),
        "news_count": len(news),
        "to_act": row_dicts(rows[act].head(OPEN)),
        "act_count": int(act.sum()),
        "idle": row_dicts(idle.head(OTHERS)),
        "idle_count": len(idle),
        "news_words": MORNING_WORDS,
        "repairs": row_dicts(repairs.head(OTHERS)),
        "repairs_count": len(repairs),
        "repair_words": REPAIR_WORDS,
        "buildings": row_dicts(flows.head(OTHERS)),
        "buildings_count": len(flows),
        "sensors": row_dicts(sensors.head(OTHERS)),
        "sensors_count": len(sensors),
        "sensor_words": SENSOR_WORDS,
        "silent": row_dicts(silent.head(OTHERS)),
        "silent_count": len(silent),
        "places": places,
        "findings": limiting[:_FINDINGS],
        "findings_count": len(limiting),
        "caution": words.CAUTION,
    }
