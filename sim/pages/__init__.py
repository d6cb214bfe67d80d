"""Pages for people: self-contained HTML from templates in which every name is escaped."""

from __future__ import annotations

import re
import unicodedata
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sim import palette

_QUOTED: Final = re.compile("(?<=“)[^”]*(?=”)")
_RIGHT_TO_LEFT: Final = frozenset({"R", "AL", "AN"})
# Unicode's FIRST STRONG ISOLATE and POP DIRECTIONAL ISOLATE (UAX 9), which no name may hold.
_ISOLATE: Final = "\u2068"
_END: Final = "\u2069"


def page(template: str, **context: Any) -> str:
    """A template filled in; whatever comes from a scenario is shown as text, never as HTML.

    A page needs nothing but itself: styles, scripts and pictures are inside it.
    """
    # Every template is a page, or part of one: all of them escape.
    environment = Environment(
        loader=PackageLoader("sim", "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=lambda value: isolated(value) if type(value) is str else value,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.globals["part"] = lambda name: Markup(
        environment.get_template(name).render(
            light=Markup(palette.custom_properties()),
            dark=Markup(palette.custom_properties(dark=True)),
        )
    )
    return environment.get_template(template).render(context)


def isolated(text: str) -> str:
    """A text in which names from right to left, as “…”, do not carry the numbers beside them along.

    >>> isolated("“one” 91, “\u05d0” 89") == "“one” 91, “\u2068\u05d0\u2069” 89"
    True
    """
    return text if text.isascii() else _QUOTED.sub(_isolated_name, text)


def _isolated_name(name: re.Match[str]) -> str:
    if not any(unicodedata.bidirectional(letter) in _RIGHT_TO_LEFT for letter in name[0]):
        return name[0]
    return f"{_ISOLATE}{name[0]}{_END}"
