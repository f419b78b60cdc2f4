"""The international standard annual water balance, with 95 % limits by variance.

Terms: Alegre et al. 2000, *Performance Indicators for Water Supply Services*, as paraphrased by
the trade: water losses = system input - authorised consumption; real losses = water losses -
apparent losses; non-revenue water = system input - billed authorised consumption.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.estimates import Array, Estimate, combine_limits, estimate, scaled
from district.settings import Annual, Costs

DISTRICT = "district"
YEAR_D = 365
BOTTOM_UP = "real losses, bottom-up from night flows"
LINES: tuple[tuple[str, int, str, str], ...] = (
    ("system_input", 0, "system input volume", "measured"),
    ("own", 1, "water from own sources", "measured"),
    ("imported", 1, "water imported", "measured"),
    ("authorised", 1, "authorised consumption", "sum"),
    ("billed", 2, "billed authorised consumption", "sum"),
    ("billed_exported", 3, "billed water exported", "measured"),
    ("billed_metered", 3, "billed metered consumption", "measured"),
    ("billed_unmetered", 3, "billed unmetered consumption", "allowance"),
    ("unbilled", 2, "unbilled authorised consumption", "sum"),
    ("unbilled_metered", 3, "unbilled metered consumption", "measured"),
    ("unbilled_unmetered", 3, "unbilled unmetered consumption", "assumed"),
    ("losses", 1, "water losses", "difference"),
    ("apparent", 2, "apparent losses", "sum"),
    ("unauthorised", 3, "unauthorised use", "assumed"),
    ("meter_error", 3, "customer meter under-registration", "assumed"),
    ("data_error", 3, "data handling error", "assumed"),
    ("real", 2, "real losses", "difference"),
    ("mains", 3, "leakage on mains", "apportioned"),
    ("tanks", 3, "leakage and overflow of tanks", "assumed"),
    ("services", 3, "leakage on service pipes up to the meter", "apportioned"),
    ("bottom_up", 3, BOTTOM_UP, "night flows"),
    ("non_revenue", 1, "non-revenue water", "sum"),
)
"""Key, level, words and what it rests on, in the order of the balance. Mains, tanks and service
pipes together are the real losses; the bottom-up figure beside them is their second opinion. Own
and imported water are told apart only where the settings say which meters import."""
SOURCES = ("water from own sources", "water imported")
LEAVES = (
    "system_input",
    "billed_exported",
    "billed_metered",
    "billed_unmetered",
    "unbilled_metered",
    "unbilled_unmetered",
    "unauthorised",
    "meter_error",
    "data_error",
)
"""The lines that all others but the parts of the real losses follow from."""


def under_registration_m3(metered_m3: Any, *, share: Any) -> Array:
    """Volume that passed meters unseen when they read `share` too little: V/(1 - share) - V.

    Source: Thornton, Sturm & Kunkel 2008, table 12.8, p. 186. A negative share is over-reading.
    """
    metered = np.asarray(metered_m3, dtype=float)
    return np.asarray(metered / (1.0 - np.asarray(share, dtype=float)) - metered)


def assumed_parts(
    system_input: Array, customer_metered: Array, *, metered: Array, annual: Annual
) -> dict[str, Estimate]:
    """The lines nobody measures, from `annual` shares: unbilled unmetered, unauthorised, errors.

    `customer_metered` is what customers' meters registered, `metered` what all users' meters did.
    Meters of buildings are not taken to read low, as they are not in the night balance: their own
    error is in the limits. Data handling may err either way.
    """
    spread = annual.assumed_spread_share

    def about(value: Array) -> Estimate:
        size = np.maximum(value, 0.0)
        return Estimate(size, size * max(0.0, 1 - spread), size * (1 + spread))

    lost, apart = (
        np.maximum(metered, 0.0) * share
        for share in (annual.data_handling_share, annual.data_handling_spread_share)
    )
    return {
        "unbilled_unmetered": about(system_input * annual.unbilled_unmetered_share),
        "unauthorised": about(system_input * annual.unauthorised_share),
        "meter_error": about(
            under_registration_m3(
                customer_metered, share=min(annual.customer_under_registration_share, 0.99)
            )
        ),
        "data_error": Estimate(lost, lost - apart, lost + apart),
    }


def complete_balance(parts: dict[str, Estimate]) -> dict[str, Estimate]:
    """All lines of the balance from those that are measured or assumed.

    Parameters: `parts` with any of `LEAVES`, system_input among them: arrays of one shape, one
    unit of volume; one that is left out is nothing. Each derived line takes its limits from the
    parts themselves, so that nothing counts twice. Other lines pass through.
    """
    nothing = estimate(np.zeros(np.shape(parts["system_input"].value)))
    p = dict.fromkeys(LEAVES, nothing) | parts
    billed = (p["billed_exported"], p["billed_metered"], p["billed_unmetered"])
    unbilled = (p["unbilled_metered"], p["unbilled_unmetered"])
    apparent = (p["unauthorised"], p["meter_error"], p["data_error"])
    whole = (p["system_input"],)

    def less(*taken: Estimate) -> Estimate:
        return combine_limits(*whole, *taken, signs=(1, *[-1] * len(taken)))

    return {
        **p,
        "authorised": combine_limits(*billed, *unbilled),
        "billed": combine_limits(*billed),
        "unbilled": combine_limits(*unbilled),
        "losses": less(*billed, *unbilled),
        "apparent": combine_limits(*apparent),
        "real": less(*billed, *unbilled, *apparent),
        "non_revenue": less(*billed),
    }


def valued(lines: dict[str, Estimate], *, costs: Costs) -> dict[str, Estimate]:
    """What each line is worth: billed and apparent at the selling price, the rest at the cost.

    Lines that hold both are the sum of their parts. Limits are those of the volumes, by variance:
    the real losses are what the other lines leave, so in a sum that holds both real and apparent
    losses the apparent ones count at the difference of the two prices. Prices are taken as exact.
    """
    sold, cost = costs.sold_currency_m3, costs.water_currency_m3
    at_sale = {n for n in lines if n.startswith("billed")}
    at_sale |= {"unauthorised", "meter_error", "data_error", "apparent"}
    worth = {n: scaled(line, sold if n in at_sale else cost) for n, line in lines.items()}
    worth["authorised"] = combine_limits(worth["billed"], worth["unbilled"])
    dearer = scaled(lines["apparent"], abs(sold - cost)), 1 if sold >= cost else -1

    def lost(*used: str) -> Estimate:
        taken = (scaled(lines[n], cost) for n in ("system_input", *used))
        return combine_limits(*taken, dearer[0], signs=(1, *[-1] * len(used), dearer[1]))

    worth["losses"] = lost("billed", "unbilled")
    worth["non_revenue"] = lost("billed")
    return worth


def annual_table(areas: pd.Index[Any], lines: dict[str, Estimate], *, costs: Costs) -> pd.DataFrame:
    """Table ANNUAL: the lines of each area that are there, in the order of the balance."""
    worth = valued(lines, costs=costs)
    shown = [x for x in LINES if x[0] in lines]
    rows: dict[str, Any] = {
        "cell_id": np.repeat(np.asarray(areas, dtype=object), len(shown)),
        "component": np.tile(np.array([x[2] for x in shown], dtype=object), len(areas)),
        "level": np.tile([float(x[1]) for x in shown], len(areas)),
    }

    def put(name: str, figures: dict[str, Estimate]) -> None:
        for suffix, part in (("", 0), ("_low", 1), ("_high", 2)):
            across = [figures[x[0]][part] for x in shown]
            rows[name + suffix] = np.stack(across, axis=1).ravel()

    put("volume_m3", lines)
    rows["rests_on"] = np.tile(np.array([x[3] for x in shown], dtype=object), len(areas))
    put("value_currency", worth)
    return pd.DataFrame(rows)


def with_district(part: Estimate, total: Estimate) -> Estimate:
    """The district's figure put before its cells'."""
    return Estimate(*(np.concatenate([[t], p]) for t, p in zip(total, part, strict=True)))


def with_sum(sizes: Array) -> Array:
    """The sum of the cells' sizes put before them."""
    return np.append(np.sum(sizes), sizes)


def summed_as_one(part: Estimate) -> Estimate:
    """The sum over cells of figures that share one assumption: limits add, too."""
    return Estimate(*(np.asarray(np.sum(p)) for p in part))


def summed_apart(part: Estimate) -> Estimate:
    """The sum over cells of independent figures: variances add."""
    value = np.sum(part.value)
    return Estimate(
        np.asarray(value),
        np.asarray(value - np.sqrt(np.sum((part.value - part.low) ** 2))),
        np.asarray(value + np.sqrt(np.sum((part.high - part.value) ** 2))),
    )


def yearly(part: Estimate) -> Estimate:
    """Mean daily volumes as volumes of a year."""
    return scaled(part, YEAR_D)
