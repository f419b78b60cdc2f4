"""What users call our columns, best name first."""

from __future__ import annotations

from district.intake.heading_units import split_unit
from district.intake.trade_words import bare, words

_IDS = ("asset id", "facility id", "unique id", "gis id", "id", "global id", "object id", "fid")
"""Ids any layer may carry, best first; the last are numbers given by the GIS."""
SPELLINGS: dict[str, dict[str, tuple[str, ...]]] = {
    "pipes": {
        "pipe_id": ("pipe id", "main id", "watermain id", "pipe", *_IDS, "name"),
        "material": ("material", "pipe material", "main material", "material id"),
        "diameter_mm": (
            "internal diameter", "inside diameter", "diameter", "pipe diameter", "main diameter",
            "nominal diameter", "diameter nominal", "diameter id",
        ),
        "installed_year": (
            "year install", "install year", "pipe year", "year", "install date", "date install",
            "install",
        ),
        "length_m": ("length", "pipe length", "length install", "install length", "main length"),
        "roughness": ("roughness", "hazen williams", "hazen williams c", "c factor", "c value"),
        "status": ("status", "pipe status", "lifecycle status", "operating status", "lifecycle"),
        "removed_year": ("year removed", "year abandoned", "abandon date", "date abandoned",
                         "retired date", "year retired", "decommissioned", "date removed"),
        "ground": ("ground", "soil", "soil kind", "ground kind", "geology", "subsoil"),
        "street": ("street", "street name", "road", "road name", "street id"),
    },
    "valves": {
        "valve_id": ("valve id", "valve", *_IDS, "name"),
        "kind": ("kind", "valve kind", "function", "valve function"),
        "state": (
            "state", "valve state", "position", "valve position", "status", "valve status",
            "normal position", "normal status", "current status", "open shut", "open closed",
        ),
        "operable": ("operable", "operability", "can operate"),
        "setting_m": ("setting", "outlet pressure", "set pressure", "setpoint"),
        "building_id": ("building id", "building"),
        "fail_position": ("fail position", "fail state", "fail mode", "fail safe", "fails",
                          "without power"),
    },
    "meters": {
        "meter_id": ("meter id", "device id", "meter", "serial id", "serial", "logger id",
                     "point id", "site id", *_IDS, "name"),
        "role": ("role", "meter role", "function", "purpose", "meter use", "use", "kind",
                 "meter kind"),
        "downstream": (
            "downstream", "downstream zone", "to zone", "zone downstream", "zone id", "zone",
            "dma id", "dma", "feed", "supplies",
        ),
        "kind": ("kind", "meter kind", "technology", "principle"),
        "reading_unit": ("reading unit", "unit", "uom", "flow unit", "unit measure"),
        "litres_per_pulse": ("l per pulse", "l pulse", "pulse value", "pulse weight",
                             "pulse factor", "gallon per pulse", "gallon pulse"),
        "register_digits": ("register digit", "digit", "dial"),
        "resolution_l": ("resolution",),
        "error_percent": ("error", "error percent", "accuracy", "uncertainty"),
        "rate_unit": ("rate unit",),
        "bore_mm": ("bore", "meter bore", "internal diameter", "inside diameter",
                    "meter diameter", "diameter", "nominal diameter", "meter size"),
        "q3_m3_h": ("q3", "q3 m3 h", "permanent flow", "permanent flow rate", "nominal flow"),
        "ratio_r": ("ratio r", "r ratio", "ratio", "turndown", "r value", "q3 q1"),
        "accuracy_class": ("accuracy class", "class", "meter class"),
        "path_length_mm": ("path length", "sound path", "acoustic path length"),
        "path_angle_deg": ("path angle", "beam angle", "acoustic path angle"),
        "profile_factor": ("profile factor", "k factor", "velocity profile factor"),
    },
    "zones": {
        "zone_id": ("zone id", "dma id", "district id", "area id", "dma", "zone", *_IDS, "name"),
        "name": ("name", "zone name", "dma name", "district name", "area name", "label",
                 "description"),
        "parent_id": ("parent id", "parent zone", "parent", "upstream zone", "fed from"),
    },
    "connections": {
        "connection_id": (
            "connection id", "service id", "customer id", "account id", "property id",
            "premise id", "supply point id", "connection", "service", "account", "customer", *_IDS,
            "name",
        ),
        "properties": ("property", "property count", "count property", "id property", "unit"),
        "use_class": ("use class", "customer class", "customer kind", "class", "use", "tariff",
                      "property kind", "kind"),
        "critical": ("critical", "sensitive", "vulnerable", "priority"),
        "meter_id": ("meter id", "meter"),
        "building_id": ("building id", "building"),
        "private_pipe_m": ("private pipe", "private length", "private pipe length",
                           "supply pipe length"),
        "elevation_m": ("elevation", "ground elevation", "ground level", "level"),
        "people": ("people", "residents", "inhabitants", "occupants", "persons"),
        "floor": ("floor", "floor no", "storey", "story"),
        "riser": ("riser", "riser id", "rising pipe"),
        "stopcock": ("stopcock", "stop tap", "stopcock id", "stop valve", "service valve"),
    },
    "sensors": {
        "sensor_id": ("sensor id", "logger id", "device id", "point id", "site id", "sensor",
                      "logger", "serial id", "serial", *_IDS, "name"),
        "kind": ("kind", "sensor kind", "logger kind", "device kind"),
        "reading_unit": ("reading unit", "unit", "uom", "unit measure"),
        "elevation_m": ("elevation", "gauge elevation", "ground elevation", "gauge level",
                        "level"),
        "building_id": ("building id", "building"),
        "surface_m2": ("surface", "surface area", "water surface", "plan area", "tank area",
                       "reservoir area", "area"),
    },
    "sources": {
        "source_id": ("source id", "reservoir id", "tank id", "well id", "source", "reservoir",
                      "tank", "well", *_IDS, "name"),
        "head_m": ("head", "water level", "top water level", "twl", "hydraulic grade"),
    },
    "works": {
        "start": ("start", "start time", "start date", "begin", "from", "date start", "date"),
        "end": ("end", "end time", "end date", "finish", "until", "date end", "to"),
        "kind": ("kind", "work kind", "activity", "job kind"),
        "place_id": ("place id", "place", "location id", "location", "asset id", "zone id",
                     "pipe id"),
        "note": ("note", "remark", "comment", "description", "detail"),
    },
    "breaks": {
        "date": ("date", "burst date", "break date", "repair date", "date repair", "found",
                 "date found", "reported", "date reported", "date burst", "date break"),
        "pipe_id": ("pipe id", "main id", "watermain id", "asset id", "pipe", "main"),
        "longitude_deg": ("longitude", "lon", "lng", "long"),
        "latitude_deg": ("latitude", "lat"),
        "kind": ("kind", "break kind", "burst kind"),
    },
    "surveys": {
        "date": ("date", "survey date", "date survey", "search", "done", "day"),
        "pipe_id": ("pipe id", "main id", "watermain id", "asset id", "pipe", "main"),
        "method": ("method", "technique", "survey kind", "kind", "equipment"),
        "found": ("found", "leak found", "leak", "result"),
        "from_m": ("from", "from chainage", "start chainage", "chainage from"),
        "to_m": ("to", "to chainage", "end chainage", "chainage to"),
        "detection_share": ("detection share", "detection probability", "detection chance"),
        "note": ("note", "remark", "comment", "description", "detail"),
    },
    "step_tests": {
        "test_id": ("test id", "test", "step test id", "step test", "night"),
        "time": ("time", "date time", "step time", "settled"),
        "valve_id": ("valve id", "valve", "shut valve", "closed valve", "valve shut",
                     "valve closed"),
        "flow_l_s": ("flow", "inflow", "flow rate", "zone flow", "inflow rate"),
        "spread_l_s": ("spread", "flow spread", "flow error", "error"),
    },
    "correlations": {
        "date": ("date", "date measured", "day", "time"),
        "first_id": ("first id", "first", "sensor a", "point a", "from id", "from", "red",
                     "sensor 1", "point 1"),
        "other_id": ("other id", "other", "second id", "second", "sensor b", "point b", "to id",
                     "to", "blue", "sensor 2", "point 2"),
        "delay_ms": ("delay", "time delay", "time difference", "td", "lag", "delay ms"),
        "spread_ms": ("spread", "delay spread", "delay error", "spread ms"),
        "length_m": ("length", "pipe length", "distance", "span", "length between"),
        "wave_speed_m_s": ("wave speed", "wave velocity", "sound velocity", "velocity", "speed",
                           "sound speed", "celerity"),
        "note": ("note", "remark", "comment", "description", "detail"),
    },
    "sightings": {
        "time": ("time", "date time", "reported", "time reported", "date reported", "date",
                 "received", "call time", "when"),
        "place_id": ("place id", "place", "location id", "location", "asset id", "connection id",
                     "building id", "pipe id"),
        "longitude_deg": ("longitude", "lon", "lng", "long"),
        "latitude_deg": ("latitude", "lat"),
        "what": ("what", "seen", "sighting", "kind", "symptom", "complaint", "report kind",
                 "category", "what was seen"),
        "note": ("note", "remark", "comment", "description", "detail"),
    },
    "readings": {
        "device_id": ("device id", "meter id", "sensor id", "logger id", "device", "meter",
                      "sensor", "logger", "site id", "point id", "channel", "site", "point",
                      "serial id", "serial", "asset id", "id", "name"),
        "time": ("time", "date time", "reading time", "reading date", "time utc", "date",
                 "date reading", "time reading", "logged", "read at"),
        "value": ("value", "reading value", "reading", "meter reading", "register",
                  "register reading", "flow", "volume", "pulse", "pressure", "consumption",
                  "level", "water level", "tank level", "reservoir level", "data"),
        "rate": ("rate", "flow rate", "flow", "instantaneous flow", "momentary flow"),
        "up_us": ("up us", "time up", "upstream time", "travel time up", "transit time up",
                  "t up", "laufzeit auf"),
        "down_us": ("down us", "time down", "downstream time", "travel time down",
                    "transit time down", "t down", "laufzeit ab"),
    },
}  # fmt: skip
_LATE_IDS = ("object id", "fid", "global id", "name")
_FOUND_BY_ITSELF, _EXACT, _SAME_WORDS, _WITHIN = 1.0, 0.9, 0.8, 0.6
_IGNORED = (("shape", "length"), ("shape", "area"), ("shape", "leng"))
_WITH_RATES = ("readings", "step_tests")
"""Tables whose headings may end in the unit of a flow."""
_CUT = 10
"""A shapefile cuts column names to this."""


def likeness(table: str, ours: str, theirs: str) -> float:
    """How much a user's column name looks like ours: 1 the same, 0.9 a known spelling, 0 not.

    >>> likeness("pipes", "diameter_mm", "DIAMETER_MM"), likeness("pipes", "material", "colour")
    (1.0, 0.0)
    """
    if theirs.lower() == ours or theirs.lower() == ours[:_CUT]:
        return _FOUND_BY_ITSELF
    said = bare(split_unit(theirs)[0] if table in _WITH_RATES else theirs)
    if said in _IGNORED or not said:
        return 0.0
    spellings = SPELLINGS[table].get(ours, ())
    for rank, spelling in enumerate(spellings):
        known = words(spelling)
        # Later spellings a little lower, so that the best of several columns is taken.
        less = 0.005 * rank + (0.2 if spelling in _LATE_IDS else 0.0)
        if said == known:
            return _EXACT - less
        # 'number of properties' is not 'property number'.
        if "id" not in said and sorted(said) == sorted(known):
            return _SAME_WORDS - less
    for rank, spelling in enumerate(spellings):
        known = words(spelling)
        long_enough = len(known) > 1 or (len(known[0]) > 4 and ours not in _ANY)
        if long_enough and set(known) <= set(said) and len(said) <= len(known) + 2:
            return _WITHIN - 0.005 * rank
    return 0.0


def is_any_id(theirs: str) -> bool:
    """Whether a column's name would suit the ids of any layer.

    >>> is_any_id("ASSET_ID"), is_any_id("PIPE_NO")
    (True, False)
    """
    said = bare(theirs)
    return any(said == words(spelling) for spelling in (*_IDS, "name"))


_ANY = ("name", "note", "kind")
"""Too common a word to be found within a longer name."""
