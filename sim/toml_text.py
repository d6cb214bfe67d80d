"""Tables of a scenario as TOML text, for files that people go on with."""

from __future__ import annotations

import json
import re
from typing import Any, Final

_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(tables: dict[str, Any]) -> str:
    """Nested tables as TOML: plain values first, then tables, and lists of tables last.

    >>> print(toml_text({"name": "a", "run": {"seed": 0}, "policies": [{"rule": "best"}]}))
    name = "a"
    <BLANKLINE>
    [run]
    seed = 0
    <BLANKLINE>
    [[policies]]
    rule = "best"
    <BLANKLINE>
    """
    return "\n".join(_lines(tables, "")).lstrip("\n") + "\n"


def _lines(table: dict[str, Any], prefix: str) -> list[str]:
    plain = {key: value for key, value in table.items() if not _has_lines_of_its_own(value)}
    lines = [f"{_key(key)} = {_value(value)}" for key, value in plain.items()]
    for key, value in table.items():
        name = f"{prefix}{_key(key)}"
        if key in plain:
            continue
        if isinstance(value, dict):
            within = _lines(value, f"{name}.")
            # A table of tables needs no heading of its own.
            lines += within if within[:1] == [""] else ["", f"[{name}]", *within]
        else:
            for item in value:
                lines += ["", f"[[{name}]]", *_lines(item, f"{name}.")]
    return lines


def _has_lines_of_its_own(value: Any) -> bool:
    """Whether a value is a table of tables or values to be listed, or a list of such tables."""
    if isinstance(value, dict):
        # Distributions and places are read best in one line.
        return "kind" not in value and not _is_a_leaf(value)
    return isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)


def _is_a_leaf(value: dict[str, Any]) -> bool:
    return set(value) == {"from_centre", "depth"}


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else json.dumps(key, ensure_ascii=False)


def _value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    return str(value).lower() if isinstance(value, bool) else repr(value)
