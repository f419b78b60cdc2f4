"""What the command prints for people."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

import pandas as pd

from district.cli.balance_tables import DISTRICT, annual_table, economics_table, meters_table
from district.cli.layout import WIDTH, print_lines, show
from district.cli.tables import zones_table
from district.errors import SEVERITIES, Finding
from district.render import of_the_audit, of_the_year, of_zones, zones_named
from district.results import Balance, Basis
from district.words import CAUTION, figure, listed, period, plural


def findings(found: Sequence[Finding]) -> str:
    """Findings as lines, worst first, with a count at the end."""
    lines = [f"{f.severity}: {f.sentence()}" for f in found]
    return "\n".join([*lines, counted(found)])


def counted(found: Sequence[Finding]) -> str:
    """How many findings of each severity."""
    if not found:
        return "Nothing wrong was found."
    counts = [
        plural(n, severity)
        for severity in SEVERITIES
        if (n := sum(f.severity == severity for f in found))
    ]
    return f"Findings: {', '.join(counts)}."


def print_counted(name: str, found: Sequence[Finding], *, shown: int, more: str) -> None:
    """What the findings are, counted, and the first of those that limit figures; `more` says where
    all are."""
    limiting = [f for f in found if f.severity != "note"]
    print(f"{name}: {counted(found)}{more if found else ''}\n")
    for finding in limiting[:shown]:
        print(f"  {finding.sentence()}")
    if len(limiting) > shown:
        print(f"  ... and {len(limiting) - shown} more")
    if limiting:
        print()


def print_files(paths: Iterable[Path]) -> None:
    """The pages that were written, a line each, and the folder of the tables."""
    tables = []
    for path in paths:
        if path.suffix == ".csv":
            tables.append(path)
        else:
            print(path)
    if tables:
        print(f"{tables[0].parent}/ ({len(tables)} CSV tables)")


def basis(found: Basis, what: str) -> list[str]:
    """What a result rests on, as lines; `what` begins the first: 'The balance rests on'."""
    lines = []
    if found.first and found.last:
        meters = f", {plural(len(found.meters), 'meter')}" if found.meters else ""
        lines.append(f"{what} {period(found.first, found.last)}{meters}.")
    lines += [f"- {words}" for words in found.assumptions]
    if found.limits:
        lines += ["Limited by:", *(f"- {words}" for words in found.limits)]
    return lines


def meters(balance: Balance) -> list[str]:
    """What the meters say of each other, as lines: who is off, what cannot be told."""
    checks, zones = balance.meter_checks, balance.zone_checks
    off = checks[checks["verdict"] == "off"]
    lines = [
        f"{row.meter_id}: {zones_named(str(row.reason), balance.zones)}" for row in off.itertuples()
    ]
    unlike = zones["verdict"].isin(("does_not_close", "unmetered_flow"))
    whole = zones["cell_id"] == DISTRICT
    # Water between two zones is told of both in the same words: once is enough.
    for reason, both in zones[unlike & ~whole].groupby("reason", sort=False):
        lines.append(f"{listed(both['cell_id'])}: {zones_named(str(reason), balance.zones)}")
    for row in zones[whole].itertuples():
        # The test of all together may pass though one small meter is off.
        reason = str(row.reason)
        if lines:
            lines.append(f"Taken together, {reason[:1].lower()}{reason[1:]}.")
        else:
            agree = "No meter disagrees with the others. " if len(checks) else ""
            lines.append(f"{agree}{reason}.")
    alone = checks.loc[checks["verdict"] == "cannot_be_checked", "meter_id"]
    if len(alone):
        lines.append(
            f"Cannot be checked by other meters: {listed(alone)}. A portable meter beside "
            f"{'it' if len(alone) == 1 else 'each'} for some days would tell."
        )
    return [fill(line, WIDTH) for line in lines]


def gaps(loss_gaps: pd.DataFrame, names: pd.Series[Any]) -> list[str]:
    """Real losses by both ways of reckoning, as lines; zones only where the two disagree."""
    lines = []
    for row in loss_gaps.to_dict("records"):
        whole = row["cell_id"] == DISTRICT
        if not whole and row["agrees"]:
            continue
        down, up = (
            figure(row[name], row[f"{name}_low"], row[f"{name}_high"], name)
            for name in ("top_down_m3", "bottom_up_m3")
        )
        where = "the district" if whole else str(names.get(row["cell_id"], row["cell_id"]))
        lines.append(
            f"Real losses of {where} in a year: {down} by the annual balance, {up} by the night "
            f"flows. {row['statement']}"
        )
    return [fill(line, WIDTH) for line in lines]


def running(economics: pd.DataFrame, currency: str) -> list[str]:
    """What leakage costs while it runs, as lines."""
    lines = []
    for row in economics[economics["cell_id"] == DISTRICT].to_dict("records"):
        day, year = (
            figure(row[name], row[f"{name}_low"], row[f"{name}_high"], name, currency=currency)
            for name in ("excess_day_currency", "excess_year_currency")
        )
        lines.append(
            f"Leakage above the background costs {day} a day while it runs, {year} a year."
        )
    return [fill(line, WIDTH) for line in lines]


def how_to_audit() -> str:
    """How to read on in the audit."""
    return fill(
        "With --zone ZONE every figure of that zone, with 'district' those of the whole, down to "
        "readings, settings and map. The workbook's audit sheet works them out anew as you change "
        "an input.",
        WIDTH,
    )


def caution() -> str:
    """Who may act on what is printed, as lines."""
    return fill(CAUTION, WIDTH)


def print_meters(balance: Balance) -> None:
    """The meters that disagree, and what is said of them; nothing where none can."""
    names = balance.zones.set_index("cell_id")["name"]
    off = meters_table(balance.meter_checks, balance.without_meter, names)
    if off.row_count:
        show(off)
    said = meters(balance)
    if said:
        print("\n".join(said), end="\n\n")


def print_reserved(balance: Balance) -> None:
    """What the audit does not count; nothing where it counts all."""
    print_lines([of_the_audit(balance)])


def print_balance(balance: Balance, currency: str) -> None:
    """The whole printed output of `district balance`."""
    names = balance.zones.set_index("cell_id")["name"]
    show(zones_table(balance.zones))
    print_lines(of_zones(balance))
    print_meters(balance)
    show(annual_table(balance.annual, currency=currency))
    print_lines([of_the_year(balance)])
    print("\n".join(gaps(balance.loss_gaps, names)), end="\n\n")
    show(economics_table(balance.economics, names, currency=currency))
    print("\n".join(running(balance.economics, currency)), end="\n\n")
    print("\n".join(basis(balance.basis, "The balance rests on")))
