"""How the report writes values of settings in its sentences."""

from __future__ import annotations

import re


def in_plain_words(value: str) -> str:
    """A setting's value for those who read no distributions.

    >>> in_plain_words("normal: mean 0 deg, sd 1.6 deg")
    'two in three within 1.6 deg'
    >>> in_plain_words("2.5 s")
    '2.5 s'
    """
    found = re.fullmatch(r"normal: mean (.+?), sd (.+?)", value)
    if not found:
        return value
    mean, spread = found.groups()
    return f"two in three within {spread}" + ("" if mean.startswith("0 ") else f" of {mean}")
