"""The limit of the change test for a stated rate of false alarms."""

from __future__ import annotations

import numpy as np

_LIMITS = (2.6, 2.9, 3.2, 3.5, 3.8)
_ALARMS_YEAR = (6.84, 3.23, 1.16, 0.32, 0.081)
"""False alarms a year of one place, rises and falls together, by Monte Carlo of the whole test:
800 series a limit, their second year, nights that resemble their neighbours (correlation 0.3,
shocks of Student's t with 5 degrees of freedom), as the ten open areas of the trials do. Where
nights are independent and normal, alarms are fewer."""


def limit_for(false_alarms_per_year: float) -> float:
    """How many standard errors a change must stand out for at most so many false alarms a year.

    The logarithm of the rate falls as a parabola of the limit, as it does where nothing is
    estimated (Siegmund & Venkatraman 1995, Annals of Statistics 23: the mean nights to a false
    alarm grow as exp(limit^2 / 2) / limit; from memory). Below the least limit of the table none
    is given, however many false alarms are accepted.
    """
    c, b, a = np.polyfit(_LIMITS, np.log(_ALARMS_YEAR), 2)
    inside = b * b - 4 * c * (a - np.log(false_alarms_per_year))
    limit = (-b - np.sqrt(inside)) / (2 * c) if inside > 0 else _LIMITS[0]
    return max(_LIMITS[0], float(limit))
