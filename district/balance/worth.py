"""What non-revenue water is worth beside all the water, and beside what the district costs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from district.balance.indicators import ratio
from district.estimates import Array, Estimate, scaled
from district.settings import Costs


def propagated(figure: Callable[[dict[str, Array]], Array], parts: dict[str, Estimate]) -> Estimate:
    """A figure of independent parts, limits by variance: each part moved to its limits in turn.

    Parameters: `figure` takes an array a part and returns one of the same shape.
    """
    middle = {name: part.value for name, part in parts.items()}
    value = figure(middle)
    below, above = np.zeros(value.shape), np.zeros(value.shape)
    for name, part in parts.items():
        ends = np.stack([figure(middle | {name: end}) - value for end in (part.low, part.high)])
        below += np.minimum(ends.min(axis=0), 0.0) ** 2
        above += np.maximum(ends.max(axis=0), 0.0) ** 2
    return Estimate(value, value - np.sqrt(below), value + np.sqrt(above))


def value_share(lines: dict[str, Estimate], *, costs: Costs) -> Estimate:
    """Value of non-revenue water as a share of the value of all water, each part at its price.

    Parameters: `lines` of the annual balance by their words. Billed water and apparent losses
    count at the selling price, the rest at what water costs. 0 where nothing has a value.
    """
    sold, cost = costs.sold_currency_m3, costs.water_currency_m3
    names = {
        "supply": "system input volume",
        "billed": "billed authorised consumption",
        "apparent": "apparent losses",
    }

    def share(at: dict[str, Array]) -> Array:
        lost = cost * (at["supply"] - at["billed"]) + (sold - cost) * at["apparent"]
        return np.nan_to_num(ratio(lost, lost + sold * at["billed"]))

    return propagated(share, {short: lines[name] for short, name in names.items()})


def cost_share(non_revenue_currency: Estimate, *, costs: Costs) -> Estimate:
    """What non-revenue water is worth over what running the district costs in the year.

    The trade's share by cost: unbilled and real losses at the cost of water, apparent losses at
    the selling price, over the running cost. That cost is known of the district alone, the first
    entry; NaN for all others, and where the settings do not tell it.
    """
    size = np.full(non_revenue_currency.value.shape, np.nan)
    if costs.running_currency_year > 0 and size.size:
        size[0] = 1.0 / costs.running_currency_year
    return scaled(non_revenue_currency, size)
