"""Classes of use as people write them, as the classes of the allowances."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from district.intake.choice_words import plain, understood


def own_classes(said: pd.Series[Any], classes: Iterable[str]) -> pd.Series[Any]:
    """Each text as the class of the allowances that it names, as written where it names none.

    The class itself comes first, then one alike but for capitals and marks, then what the words
    of the trade mean.

    >>> own_classes(pd.Series(["CAMPUS", "Residential", "mill"]), ["campus", "household"]).tolist()
    ['campus', 'household', 'mill']
    """
    known = tuple(classes)
    alike = {plain(name): name for name in reversed(known)}

    def meant(text: Any) -> Any:
        if not isinstance(text, str) or text in known or not plain(text):
            return text
        found = alike.get(plain(text)) or understood("connections", "use_class", text)
        return found if found in known else text

    return said.map(meant, na_action="ignore").astype(said.dtype)
