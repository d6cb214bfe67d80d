"""Tables of a scenario as TOML text, with remarks, for files that people go on with."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any, Final

_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")
_PLACE: Final = {"from_centre", "depth"}
_NO_REMARKS: Final[Mapping[str, str]] = {}


def toml_text(tables: Mapping[str, Any], remarks: Mapping[str, str] = _NO_REMARKS) -> str:
    """Nested tables as TOML that reads back as the same: plain values, then tables and lists.

    Distributions, places and weights stand on one line. ``remarks`` go behind the values of their
    (dotted) keys.

    >>> tables = {"name": "a", "run": {"seed": 0}, "policies": [{"rule": "best"}]}
    >>> print(toml_text(tables, {"run.seed": "any"}))
    name = "a"
    <BLANKLINE>
    [run]
    seed = 0  # any
    <BLANKLINE>
    [[policies]]
    rule = "best"
    <BLANKLINE>
    """
    return "\n".join(_lines(tables, "", remarks)).lstrip("\n") + "\n"


def _lines(table: Mapping[str, Any], prefix: str, remarks: Mapping[str, str]) -> list[str]:
    plain = [key for key, value in table.items() if _stands_on_one_line(value, prefix)]
    lines = []
    for key in plain:
        remark = remarks.get(f"{prefix}{key}")
        lines.append(f"{_key(key)} = {_value(table[key])}" + (f"  # {remark}" if remark else ""))
    for key, value in table.items():
        name = f"{prefix}{_key(key)}"
        if key in plain:
            continue
        if isinstance(value, Mapping):
            within = _lines(value, f"{name}.", remarks)
            # A table of tables needs no heading of its own.
            lines += within if within[:1] == [""] else ["", f"[{name}]", *within]
        else:
            for item in value:
                lines += ["", f"[[{name}]]", *_lines(item, f"{name}.", remarks)]
    return lines


def _stands_on_one_line(value: Any, prefix: str) -> bool:
    """Whether a value has no heading: no table of the whole scenario, no list of tables."""
    if isinstance(value, Mapping):
        weights = all(isinstance(v, int | float) for v in value.values())
        return bool(prefix) and ("kind" in value or set(value) == _PLACE or weights)
    tables = isinstance(value, list) and all(isinstance(v, Mapping) for v in value)
    return not tables or not value


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, str):
        # JSON's escapes are TOML's, but for one control character that JSON leaves as it is.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    return str(value).lower() if isinstance(value, bool) else repr(value)
