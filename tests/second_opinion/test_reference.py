"""The reference keeps to the page it follows, and away from the code it judges."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
from pathlib import Path

import pytest

from tests import reference

MODULES = [module.name for module in pkgutil.iter_modules(reference.__path__)]
PAGE = Path(__file__).parents[2] / "sim" / "docs" / "model.md"
# Methods that the page leaves open.
WITHOUT_A_SECTION = {"solve", "search"}


def in_one_line(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


@pytest.mark.parametrize("name", sorted(set(MODULES) - WITHOUT_A_SECTION))
def test_every_module_begins_with_what_the_page_says(name: str) -> None:
    """The sentence under the heading of a module stands on the page, in a section named there."""
    heading, said, *_ = (importlib.import_module(f"tests.reference.{name}").__doc__ or "").split(
        "\n\n"
    )
    assert re.match(r"Sections? \d+( and \d+)? of the model page", heading)
    assert in_one_line(said) in in_one_line(PAGE.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", MODULES)
def test_the_reference_has_no_code_of_the_package(name: str) -> None:
    file = Path(reference.__path__[0]) / f"{name}.py"
    imported = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            imported |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            imported.add(node.module or "")
    assert not {module for module in imported if module.split(".")[0] == "sim"}
