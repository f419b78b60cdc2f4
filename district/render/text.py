"""Text that is safe in the pages: escaped here, once."""

from __future__ import annotations

import html
import re
from typing import Any

from markupsafe import Markup

from district.words import missing

# Braces and backticks too: the map library reads its own output again as a template, and puts
# tooltips between backticks.
_MORE = str.maketrans({"{": "&#123;", "}": "&#125;", "`": "&#96;", "$": "&#36;"})
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|L|L/s|m|km|mm|m/s|m³|m³/day|bar|h|ms|dB)(?![\w/³]))")


def bound(value: Any) -> Any:
    """Text with every figure bound to its unit, so that no line ends between them.

    Anything but plain text stays as it is, markup too: its text was bound as it was escaped.

    >>> bound("moved it (47 %) to 0.4 L/s in 3 nights")
    'moved it (47\xa0%) to 0.4\xa0L/s in 3 nights'
    """
    return _BEFORE_UNIT.sub("\u00a0", value) if type(value) is str else value


def escape(value: Any) -> Markup:
    """`value` as text that is safe in HTML, in an attribute, and in the map's script.

    >>> str(escape('<b>"Mill & {{ 7 }}"'))
    '&lt;b&gt;&quot;Mill &amp; &#123;&#123; 7 &#125;&#125;&quot;'
    """
    text = "" if missing(value) else bound(str(value))
    return Markup(html.escape(text, quote=True).translate(_MORE))
