"""What became of leaks once they were told: repairs verified, the ledger, what history learns.

Between the inputs and the room that reckons, like `happened`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pandas as pd

from district import ledger
from district.network import Network
from district.results import Basis, Events, Inputs, Ledger
from district.settings import Settings
from district.words import missing

_VERIFIED = (
    "A repair is held against up to 28 nights before and after it; the limits are those of chance "
    "from night to night.",
)
_COUNTED = (
    "Water is that of leaks which meters tell of, from their first night on; of others nothing is "
    "counted. A leak that ran across New Year is divided night by night, its growth allowed for.",
    "An event mended at several places is a leak at each; they share its water by what each repair "
    "took off the night flow.",
    "Limits of one zone's leaks are added, as its meters are wrong for all of them alike; those of "
    "several zones by their squares.",
    "Days are from the first night of the flow: awareness until meters or a crew told of it, "
    "location until a crew found it, repair until it was mended. Where nobody wrote down when it "
    "was found, the last two are not told apart.",
)


def repairs_known(inputs: Inputs, network: Network, settings: Settings) -> pd.DataFrame:
    """Every repair on record, with what crews told of it; see `ledger.repairs_on_record`."""
    return ledger.repairs_on_record(
        inputs.works,
        inputs.entries,
        where=ledger.where_of(network),
        clock=settings.zone_info(),
    )


def breaks_known(
    inputs: Inputs, network: Network, events: Events, settings: Settings
) -> pd.DataFrame:
    """Table BREAKS, with the repairs that it does not hold yet."""
    repairs = repairs_known(inputs, network, settings)
    return ledger.breaks_with_repairs(inputs.breaks, repairs, events.repair_checks)


def repairs_verified(
    inputs: Inputs,
    network: Network,
    events: Events,
    settings: Settings,
    *,
    since: date | None = None,
) -> Ledger:
    """Each repair on record from the local date `since` on, and whether its job is closed."""
    repairs = repairs_known(inputs, network, settings)
    first = None if since is None else pd.Timestamp(since)
    told = ledger.verifications(repairs, events.repair_checks, events.events, since=first)
    basis = replace(events.basis, meters=(), assumptions=_VERIFIED)
    return Ledger(*_named(network, settings), verifications=told, basis=basis)


def ledger_found(inputs: Inputs, network: Network, events: Events, settings: Settings) -> Ledger:
    """Every leak and every year of them; see `ledger.ledger_of` and `ledger.ledger_years`."""
    repairs, where = repairs_known(inputs, network, settings), ledger.where_of(network)
    told = ledger.verifications(repairs, events.repair_checks, events.events)
    leaks = ledger.ledger_of(
        repairs, events.repair_checks, events.events, inputs.surveys, inputs.breaks, where=where
    )
    first, last = events.basis.first, events.basis.last
    years, groups = ledger.ledger_years(leaks, told, events.events, first=first, last=last)
    price, currency = settings.costs.water_currency_m3, settings.district.currency
    priced = f"Water is counted at {price:g} {currency} per m³."
    basis = Basis(first, last, assumptions=(priced, *_COUNTED), limits=events.basis.limits)
    return Ledger(
        *_named(network, settings),
        verifications=told,
        leaks=leaks,
        years=years,
        groups=groups,
        basis=basis,
    )


def _named(network: Network, settings: Settings) -> tuple[str, str, dict[str, str]]:
    """The district's name and money, and what people call its zones and metered buildings."""
    owned = network.connections
    metered = owned[~(owned["meter_id"].map(missing) | owned["building_id"].map(missing))]
    places = dict(
        zip(metered["meter_id"].astype(str), metered["building_id"].astype(str), strict=True)
    )
    places |= dict(zip(network.cells.index.astype(str), network.cells["name"], strict=True))
    return settings.district.name, settings.district.currency, places
