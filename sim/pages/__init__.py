"""Pages for people: self-contained HTML from templates in which every name is escaped."""

from __future__ import annotations

from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sim import palette


def page(template: str, **context: Any) -> str:
    """A template filled in; whatever comes from a scenario is shown as text, never as HTML.

    A page needs nothing but itself: styles, scripts and pictures are inside it.
    """
    # Every template is a page, or part of one: all of them escape.
    environment = Environment(
        loader=PackageLoader("sim", "pages"),
        autoescape=True,
        undefined=StrictUndefined,
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
