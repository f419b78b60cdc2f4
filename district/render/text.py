"""Text that is safe in the pages: escaped here, once."""

from __future__ import annotations

import html
from typing import Any

from markupsafe import Markup

from district.words import missing

# Braces and backticks too: the map library reads its own output again as a template, and puts
# tooltips between backticks.
_MORE = str.maketrans({"{": "&#123;", "}": "&#125;", "`": "&#96;", "$": "&#36;"})


def escape(value: Any) -> Markup:
    """`value` as text that is safe in HTML, in an attribute, and in the map's script.

    >>> str(escape('<b>"Mill & {{ 7 }}"'))
    '&lt;b&gt;&quot;Mill &amp; &#123;&#123; 7 &#125;&#125;&quot;'
    """
    return Markup(html.escape("" if missing(value) else str(value), quote=True).translate(_MORE))
