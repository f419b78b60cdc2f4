"""Settings that cannot be used: every section, and the file itself."""

from __future__ import annotations

from tests.bad_inputs.breakers import Case, both, gone, more, raw, replaced, text
from tests.bad_inputs.small_folder import SETTINGS

_FILE = "district.toml"
_THREE = (
    '[district]\ntimezone = "Mars"\n[night]\nstart = 9\n[cost]\nx = 1\n[locate]\nhold_share = 90\n'
)

CASES: tuple[Case, ...] = (
    Case(
        "a name that is a number",
        replaced(_FILE, '"Small"', "5"),
        _FILE,
        (
            "district.toml, district.name: got 5, expected text in quotation marks. Correct "
            "the value.",
        ),
    ),
    Case(
        "no time zone at all",
        replaced(_FILE, '"Europe/Zurich"', '""'),
        _FILE,
        (
            'district.toml, district.timezone: got "", expected a time zone name such as '
            '"Europe/London" or "UTC". Correct the value.',
        ),
    ),
    Case(
        "an unknown layout",
        replaced(_FILE, '"wide"', '"tall"'),
        _FILE,
        (
            'district.toml, readings.layout, entry 2: got "tall", expected "long" or "wide". '
            "Correct the value.",
        ),
    ),
    Case(
        "an unknown stamp",
        replaced(_FILE, 'layout = "wide"', 'stamp = "middle"'),
        _FILE,
        (
            'district.toml, readings.stamp, entry 2: got "middle", expected "start" or '
            '"end". Correct the value.',
        ),
    ),
    Case(
        "a logger's clock by its offset",
        replaced(_FILE, 'layout = "wide"', 'timezone = "UTC+1"'),
        _FILE,
        (
            'district.toml, readings.timezone, entry 2: got "UTC+1", expected a time zone '
            'name such as "Europe/London" or "UTC". Correct the value.',
        ),
    ),
    Case(
        "readings without files",
        more('[[readings]]\nlayout = "long"\n'),
        _FILE,
        (
            "district.toml, readings.files, entry 3: got no such key, expected a line files "
            "= ..., as it has no default. Add the line.",
        ),
    ),
    Case(
        "readings in single brackets",
        text(_FILE, '[readings]\nfiles = "readings/zones.csv"\n'),
        _FILE,
        (
            'district.toml, readings: got files = "readings/zones.csv", expected '
            "[[readings]] in double brackets, as there may be several. Add the second "
            "brackets.",
        ),
    ),
    Case(
        "files given as a list",
        text(_FILE, '[[readings]]\nfiles = ["a.csv", "b.csv"]\n'),
        _FILE,
        (
            'district.toml, readings.files, entry 1: got ["a.csv", "b.csv"], expected text '
            "in quotation marks. Correct the value.",
        ),
    ),
    Case(
        "time and value from one column",
        replaced(_FILE, 'zones.csv"', 'zones.csv"\ncolumns = {time = "t", value = "t"}'),
        _FILE,
        (
            'district.toml, readings.columns, entry 1: got time = "t", value = "t", expected '
            'a column for each, not "t" for time and value. Correct the value.',
        ),
    ),
    Case(
        "a night that ends before it starts",
        more("[night]\nstart = 05:00:00\n"),
        _FILE,
        (
            "district.toml, night: got start = 05:00:00, expected a window that ends after "
            "it starts, on the same date. Correct the value.",
        ),
    ),
    Case(
        "a night with an offset",
        more('[night]\nend = "04:00Z"\n'),
        _FILE,
        (
            'district.toml, night: got end = "04:00Z", expected times such as 02:00:00 of '
            "the district's own clock, without an offset. Correct the value.",
        ),
    ),
    Case(
        "a search that starts after its end",
        more("[night]\nsearch_start = 06:30:00\n"),
        _FILE,
        (
            "district.toml, night: got search_start = 06:30:00, expected a window that ends "
            "after it starts, on the same date. Correct the value.",
        ),
    ),
    Case(
        "an hour 25",
        more('[night]\nend = "25:00"\n'),
        _FILE,
        (
            'district.toml, night.end: got "25:00", expected a time of the day such as '
            "02:00:00. Correct the value.",
        ),
    ),
    Case(
        "no recent nights",
        more("[night]\nrecent_nights = 0\n"),
        _FILE,
        ("district.toml, night.recent_nights: got 0, expected at least 1. Correct the value.",),
    ),
    Case(
        "half a night",
        more("[night]\nrecent_nights = 2.5\n"),
        _FILE,
        (
            "district.toml, night.recent_nights: got 2.5, expected a whole number. Correct "
            "the value.",
        ),
    ),
    Case(
        "an allowance without its figure",
        more("[allowances.hotel]\nl_property_d = 900\n"),
        _FILE,
        (
            "district.toml, allowances.hotel.l_property_h: got no such key, expected a line "
            "l_property_h = ..., as it has no default. Add the line.",
        ),
    ),
    Case(
        "an allowance below nothing",
        more("[allowances.household]\nl_property_h = -2\n"),
        _FILE,
        (
            "district.toml, allowances.household.l_property_h: got -2, expected at least 0. "
            "Correct the value.",
        ),
    ),
    Case(
        "an allowance that is no section",
        more("[allowances]\nhousehold = 2\n"),
        _FILE,
        (
            "district.toml, allowances.household: got 2, expected a section "
            "[allowances.household] with lines of key = value below it. Write it as a "
            "section of its own.",
        ),
    ),
    Case(
        "background that grows too fast",
        more("[background]\nexponent = 9\n"),
        _FILE,
        ("district.toml, background.exponent: got 9, expected at most 5. Correct the value.",),
    ),
    Case(
        "a factor outside its limits",
        more("[background]\ncondition_factor = 4.0\n"),
        _FILE,
        (
            "district.toml, background: got condition_factor = 4.0, expected "
            "condition_factor from condition_factor_low, 1, to condition_factor_high, 3. "
            "Correct the value.",
        ),
    ),
    Case(
        "an exponent outside its limits",
        more("[pressure]\nexponent_low = 1.4\n"),
        _FILE,
        (
            "district.toml, pressure: got exponent_low = 1.4, expected exponent from "
            "exponent_low, 1.4, to exponent_high, 1.5. Correct the value.",
        ),
    ),
    Case(
        "pressure below nothing",
        more("[pressure]\nassumed_m = -3\n"),
        _FILE,
        ("district.toml, pressure.assumed_m: got -3, expected more than 0. Correct the value.",),
    ),
    Case(
        "a share given in per cent",
        more("[annual]\nunauthorised_share = 2.5\n"),
        _FILE,
        (
            "district.toml, annual.unauthorised_share: got 2.5, expected at most 1. Correct "
            "the value.",
        ),
    ),
    Case(
        "a cost with its currency",
        more('[costs]\nwater_currency_m3 = "0.8 EUR"\n'),
        _FILE,
        (
            'district.toml, costs.water_currency_m3: got "0.8 EUR", expected a number '
            "without unit or quotation marks. Correct the value.",
        ),
    ),
    Case(
        "a cost that is no number",
        more("[costs]\nsold_currency_m3 = nan\n"),
        _FILE,
        (
            "district.toml, costs.sold_currency_m3: got nan, expected a number without unit "
            "or quotation marks. Correct the value.",
        ),
    ),
    Case(
        "no false alarms at all",
        more("[events]\nfalse_alarms_per_year = 0\n"),
        _FILE,
        (
            "district.toml, events.false_alarms_per_year: got 0, expected more than 0. "
            "Correct the value.",
        ),
    ),
    Case(
        "a probability in per cent",
        more("[locate]\nhold_share = 90\n"),
        _FILE,
        ("district.toml, locate.hold_share: got 90, expected less than 1. Correct the value.",),
    ),
    Case(
        "exceptional use of no zone",
        more("[[exceptional_use]]\nflow_l_s = 2\n"),
        _FILE,
        (
            "district.toml, exceptional_use.zone_id, entry 1: got no such key, expected a "
            "line zone_id = ..., as it has no default. Add the line.",
        ),
    ),
    Case(
        "exceptional use in single brackets",
        more('[exceptional_use]\nzone_id = "A"\nflow_l_s = 2\n'),
        _FILE,
        (
            'district.toml, exceptional_use: got zone_id = "A", flow_l_s = 2, expected '
            "[[exceptional_use]] in double brackets, as there may be several. Add the second "
            "brackets.",
        ),
    ),
    Case(
        "an unknown group of countries",
        text(_FILE, 'country_group = "rich"\n' + SETTINGS),
        _FILE,
        (
            'district.toml, country_group: got "rich", expected "developed" or "developing". '
            "Correct the value.",
        ),
    ),
    Case(
        "a tolerance of half a kilometre",
        text(_FILE, "snap_tolerance_m = 500\n" + SETTINGS),
        _FILE,
        ("district.toml, snap_tolerance_m: got 500, expected at most 50. Correct the value.",),
    ),
    Case(
        "an unknown layer",
        more('[layers.pipe]\nfile = "pipes.geojson"\n'),
        _FILE,
        (
            'district.toml, layers: got pipe = {file = "pipes.geojson"}, expected one of '
            "pipes, valves, meters, zones, connections, sensors, sources, streets, surfaces, "
            'not "pipe". Correct the value.',
        ),
    ),
    Case(
        "a layer given as text",
        more('[layers]\npipes = "pipes.geojson"\n'),
        _FILE,
        (
            'district.toml, layers.pipes: got "pipes.geojson", expected a section '
            "[layers.pipes] with lines of key = value below it. Write it as a section of its "
            "own.",
        ),
    ),
    Case(
        "a layer without its file",
        more('[layers.pipes]\ncolumns = {pipe_id = "id"}\n'),
        _FILE,
        (
            "district.toml, layers.pipes.file: got no such key, expected a line file = ..., "
            "as it has no default. Add the line.",
        ),
    ),
    Case(
        "an unknown column of ours",
        more('[layers.pipes]\nfile = "p.gpkg"\ncolumns = {pipe = "id"}\n'),
        _FILE,
        (
            'district.toml, layers: got pipes = {file = "p.gpkg", columns = {pipe = "id"}}, '
            "expected columns of pipes (pipe_id, geometry, material, diameter_mm, "
            "installed_year, length_m, roughness, status, removed_year, ground, street), "
            'not "pipe". Correct the value.',
        ),
    ),
    Case(
        "two columns from one",
        more('[records.works]\nfile = "w.csv"\ncolumns = {kind = "a", note = "a"}\n'),
        _FILE,
        (
            'district.toml, records.works.columns: got kind = "a", note = "a", expected a '
            'column for each, not "a" for kind and note. Correct the value.',
        ),
    ),
    Case(
        "an unknown record",
        more('[records.repairs]\nfile = "works.csv"\n'),
        _FILE,
        (
            'district.toml, records: got repairs = {file = "works.csv"}, expected one of '
            'works, breaks, surveys, step_tests, correlations, sightings, entries, not "repairs". '
            "Correct the value.",
        ),
    ),
    Case(
        "a unit of a date",
        more('[records.breaks]\nfile = "breaks.csv"\nunits = {date = "m"}\n'),
        _FILE,
        (
            'district.toml, records.breaks.units: got date = "m", expected columns with a unit of '
            "length, volume or flow, not date. Correct the value.",
        ),
    ),
    Case(
        "settings in UTF-16",
        text(_FILE, SETTINGS, "utf-16"),
        _FILE,
        (
            "district.toml, line 1: got a sign that is not UTF-8, expected TOML in UTF-8: "
            "key = value lines under [section] headings. Save the file as UTF-8.",
        ),
    ),
    Case(
        "settings in a Windows encoding",
        text(_FILE, SETTINGS.replace("Small", "Süd"), "cp1252"),
        _FILE,
        (
            "district.toml, line 2: got a sign that is not UTF-8, expected TOML in UTF-8: "
            "key = value lines under [section] headings. Save the file as UTF-8.",
        ),
    ),
    Case(
        "settings that end in zeros",
        raw(_FILE, SETTINGS.encode() + bytes(64)),
        _FILE,
        (
            "district.toml: got text that is not TOML (Invalid statement (at line 11, column "
            "1)), expected TOML in UTF-8: key = value lines under [section] headings. Mend "
            "that line; texts need quotation marks.",
        ),
    ),
    Case(
        "a section twice",
        more('[district]\nname = "Again"\n'),
        _FILE,
        (
            "district.toml: got text that is not TOML (Cannot declare ('district',) twice "
            "(at line 11, column 10)), expected TOML in UTF-8: key = value lines under "
            "[section] headings. Mend that line; texts need quotation marks.",
        ),
    ),
    Case(
        "a key twice",
        replaced(_FILE, 'name = "Small"', 'name = "Small"\nname = "Large"'),
        _FILE,
        (
            "district.toml: got text that is not TOML (Cannot overwrite a value (at line 3, "
            "column 15)), expected TOML in UTF-8: key = value lines under [section] "
            "headings. Mend that line; texts need quotation marks.",
        ),
    ),
    Case(
        "typographic quotation marks",
        replaced(_FILE, '"Small"', "“Small”"),
        _FILE,
        (
            "district.toml: got text that is not TOML (Invalid value (at line 2, column 8)), "
            "expected TOML in UTF-8: key = value lines under [section] headings. Mend that "
            "line; texts need quotation marks.",
        ),
    ),
    Case(
        "a text without quotation marks",
        replaced(_FILE, '"Europe/Zurich"', "Europe/Zurich"),
        _FILE,
        (
            "district.toml: got text that is not TOML (Invalid value (at line 3, column "
            "12)), expected TOML in UTF-8: key = value lines under [section] headings. Mend "
            "that line; texts need quotation marks.",
        ),
    ),
    Case(
        "a path with backslashes",
        more('[layers.pipes]\nfile = "C:\\data\\pipes.shp"\n'),
        _FILE,
        (
            "district.toml: got text that is not TOML (Unescaped '\\' in a string (at line "
            "12, column 13)), expected TOML in UTF-8: key = value lines under [section] "
            "headings. Write paths with / in place of \\.",
        ),
    ),
    Case(
        "settings in another language",
        text(_FILE, '{"district": {"name": "Small"}}'),
        _FILE,
        (
            "district.toml: got text that is not TOML (Invalid statement (at line 1, column "
            "1)), expected TOML in UTF-8: key = value lines under [section] headings. Mend "
            "that line; texts need quotation marks.",
        ),
    ),
    Case(
        "four sections wrong at once",
        text(_FILE, _THREE),
        _FILE,
        (
            'district.toml, district.timezone: got "Mars", expected a time zone name such as '
            '"Europe/London" or "UTC". Correct the value.',
            "district.toml, night: got start = 9, expected times such as 02:00:00 of the "
            "district's own clock, without an offset. Correct the value.",
            "district.toml, locate.hold_share: got 90, expected less than 1. Correct the value.",
            "district.toml, cost: got a key that is not known here, expected only keys "
            "listed in README, section Settings. Check the spelling, or remove the line.",
        ),
    ),
    Case(
        "settings that are a folder",
        both(gone(_FILE), lambda folder: (folder / _FILE).mkdir()),
        _FILE,
        (
            "district.toml: got what cannot be read as a file (Is a directory), expected "
            "TOML in UTF-8: key = value lines under [section] headings. Check what it is and "
            "who may read it.",
        ),
    ),
    Case(
        "settings that link to themselves",
        both(gone(_FILE), lambda folder: (folder / _FILE).symlink_to(_FILE)),
        _FILE,
        (
            "district.toml: got what cannot be read as a file (Too many levels of symbolic "
            "links), expected TOML in UTF-8: key = value lines under [section] headings. "
            "Check what it is and who may read it.",
        ),
    ),
    Case(
        "settings that link to nothing",
        both(gone(_FILE), lambda folder: (folder / _FILE).symlink_to("nowhere")),
        _FILE,
        (
            "district.toml: got what cannot be read as a file (No such file or directory), "
            "expected TOML in UTF-8: key = value lines under [section] headings. Check what "
            "it is and who may read it.",
        ),
    ),
)
