"""A scenario's tables as TOML text, with remarks."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from typing import Any, Final

_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(tables: Mapping[str, Any], remarks: Mapping[str, str]) -> str:
    """Tables as TOML that reads back as the same tables.

    ``remarks`` go behind the values of their (dotted) keys. Distributions and weights stand on one
    line, other tables under a header of their own.

    >>> print(toml_text({"name": "x", "run": {"seed": 0, "baseline": "a"}}, {"run.seed": "ok"}))
    name = "x"
    <BLANKLINE>
    [run]
    seed = 0  # ok
    baseline = "a"
    <BLANKLINE>
    """
    return "\n".join(_lines(tables, (), remarks)) + "\n"


def _lines(
    table: Mapping[str, Any], path: tuple[str, ...], remarks: Mapping[str, str]
) -> Iterator[str]:
    inner = {key: value for key, value in table.items() if _has_header(value)}
    values = {key: value for key, value in table.items() if key not in inner}
    if path and values:
        yield f"\n[{'.'.join(map(_key, path))}]"
    for key, value in values.items():
        remark = remarks.get(".".join((*path, key)))
        yield f"{_key(key)} = {_value(value)}" + (f"  # {remark}" if remark else "")
    for key, value in inner.items():
        yield from _lines(value, (*path, key), remarks)


def _has_header(value: Any) -> bool:
    if not isinstance(value, Mapping):
        return False
    return "kind" not in value and not all(isinstance(v, int | float) for v in value.values())


def _key(key: str) -> str:
    return key if _BARE_KEY.fullmatch(key) else _value(key)


def _value(value: Any) -> str:
    if isinstance(value, str):
        # JSON's escapes are TOML's, but for one control character that JSON leaves as it is.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    return repr(value)
