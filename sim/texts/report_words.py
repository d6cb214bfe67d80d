"""How the report writes values of settings in its sentences."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

# What the numbers of a group are called beside each other, by the last part of their keys.
_PARTS: Final = {"speed": "speed", "elevation": "height", "azimuth": "direction"}


def each_in_plain_words(values: Mapping[str, str]) -> str:
    """The values of several settings by their keys, each with what it is of.

    >>> each_in_plain_words({"opponents.errors.azimuth": "normal: mean 0 deg, sd 2.1 deg"})
    'direction: two in three within 2.1 deg'
    """
    names = {key: key.rpartition(".")[2] for key in values}
    return "; ".join(
        f"{_PARTS.get(names[key], names[key])}: {in_plain_words(value)}"
        for key, value in values.items()
    )


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
