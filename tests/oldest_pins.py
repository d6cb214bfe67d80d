"""The oldest packages that pyproject.toml allows, as constraints for pip.

``python -m tests.oldest_pins`` prints them, and with ``--python`` the oldest Python. They are the
lower bounds themselves, so that what is promised there is what is tested.
"""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path
from typing import Any

PYPROJECT = Path(__file__).parent.parent / "pyproject.toml"
_BOUND = re.compile(r"(?P<name>[\w.-]+)>=(?P<version>[\w.]+)")
_OWN_EXTRA = re.compile(r"reachshare\[(?P<extra>\w+)\]")


def oldest_python(pyproject: dict[str, Any]) -> str:
    """The oldest Python allowed, such as ``3.11``."""
    return str(pyproject["project"]["requires-python"]).removeprefix(">=")


def oldest_pins(pyproject: dict[str, Any], extra: str) -> list[str]:
    """A line ``name==version`` for each requirement of the package and of one of its extras.

    Raises ValueError for a requirement without a lower bound: nobody would know what was tested.
    """
    pins = [_pin(requirement) for requirement in pyproject["project"]["dependencies"]]
    for requirement in pyproject["project"]["optional-dependencies"][extra]:
        if own := _OWN_EXTRA.fullmatch(requirement):
            pins += oldest_pins(pyproject, own["extra"])
        else:
            pins.append(_pin(requirement))
    return sorted(set(pins))


def _pin(requirement: str) -> str:
    bound = _BOUND.fullmatch(requirement)
    if bound is None:
        raise ValueError(f"{requirement}: must be written name>=version")
    return f"{bound['name']}=={bound['version']}"


def read_pyproject() -> dict[str, Any]:
    """The project's own pyproject.toml."""
    return tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))


if __name__ == "__main__":
    if sys.argv[1:] == ["--python"]:
        print(oldest_python(read_pyproject()))
    else:
        print("\n".join(oldest_pins(read_pyproject(), "test")))
