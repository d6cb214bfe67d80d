"""Checks as rows of Markdown tables, with numbers no finer than they deserve."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from sim.wording import MINUS
from tests.published.check import Check, Property, Range

COLUMNS = ("quantity", "source", "published", "ours", "difference", "allowed")
ALIGNED = ("---", "---", "---:", "---:", "---:", "---")
# Allowances this many decimals finer than the numbers shown are there for rounding only.
_FINER = 3
# A difference is shown finely enough if so many units of its last digit are allowed.
_UNITS_ALLOWED = 5.0


def number(value: float, decimals: int) -> str:
    """A number as it is written on the page.

    >>> number(-0.5, 1), number(-0.0001, 2)
    ('−0.5', '0.00')
    """
    rounded = round(value, decimals) + 0.0
    return f"{rounded:,.{decimals}f}".replace("-", MINUS)


def published(check: Check) -> str:
    if not isinstance(check.expected, Range):
        return number(check.expected, check.decimals)
    low, high = (number(end, check.decimals) for end in (check.expected.low, check.expected.high))
    if math.isinf(check.expected.low):
        return f"at most {high}"
    if math.isinf(check.expected.high):
        return f"at least {low}"
    return f"{low} to {high}"


def ours(check: Check) -> str:
    found, decimals = check.found, check.decimals
    value = number(found.value, decimals)
    if found.low == found.high:
        return value
    return f"{value} ({number(found.low, decimals)} to {number(found.high, decimals)})"


def difference(check: Check) -> str:
    """Signed; one decimal finer if the allowance asks for it. Of a range, how far outside."""
    if isinstance(check.expected, Range):
        if check.difference == 0.0:
            return "inside"
        return f"outside by {number(abs(check.difference), check.decimals)}"
    coarse = check.tolerance < _UNITS_ALLOWED * 10.0**-check.decimals
    decimals = check.decimals + (coarse and not _for_rounding(check))
    plus = "+" if round(check.difference, decimals) > 0.0 else ""
    return plus + number(check.difference, decimals)


def _for_rounding(check: Check) -> bool:
    return check.allowed < 10.0 ** -(check.decimals + _FINER)


def allowed(check: Check) -> str:
    if isinstance(check.expected, Range):
        return f"the range: {check.why}" if check.why else "the range"
    if check.allowed == 0.0:
        return "none"
    if _for_rounding(check):
        return check.why
    size = np.format_float_positional((100.0 if check.relative else 1.0) * check.allowed, trim="-")
    return f"{size}{' %' if check.relative else ''}: {check.why}"


def row(check: Check) -> list[str]:
    name = f"{check.quantity}, {check.unit}" if check.unit else check.quantity
    cells = [name, str(check.source), published(check), ours(check)]
    return [*cells, difference(check), allowed(check)]


def checks_table(checks: Iterable[Check]) -> list[str]:
    return table(COLUMNS, ALIGNED, map(row, checks))


def differing_table(checks: Iterable[Check]) -> list[str]:
    """Those that do not agree, with the reason in place of what the allowance rests on."""
    rows = ([*row(check)[:5], check.differs] for check in checks)
    return table((*COLUMNS[:5], "what is known about it"), ALIGNED, rows)


def properties_table(properties: Iterable[Property]) -> list[str]:
    rows = ([held.statement, str(held.source), f"`{held.place}`"] for held in properties)
    return table(("what holds", "source", "test"), ("---",) * 3, rows)


def table(
    columns: Iterable[str], aligned: Iterable[str], rows: Iterable[Iterable[str]]
) -> list[str]:
    """Lines of a Markdown table, and an empty one."""
    return [f"| {' | '.join(cells)} |" for cells in (columns, aligned, *rows)] + [""]
