"""The Python interface: every public name is there, typed, documented, and imports by itself."""

from __future__ import annotations

import ast
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import sim
from sim.errors import Refused
from sim.scenario import Scenario

PACKAGE = Path(sim.__file__).parent
MODULES = sorted(
    ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__")
    for path in PACKAGE.rglob("*.py")
)
# A fresh process for each would take minutes: whatever one has loaded of the package is forgotten
# before the next.
_ALONE = """
import importlib, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
    for loaded in [m for m in sys.modules if m.partition(".")[0] == "sim"]:
        del sys.modules[loaded]
"""


def imported_for_types() -> dict[str, str]:
    """Names and homes under TYPE_CHECKING in the package's own file."""
    tree = ast.parse((PACKAGE / "__init__.py").read_text(encoding="utf-8"))
    (block,) = (node for node in tree.body if isinstance(node, ast.If))
    return {
        alias.asname or alias.name: str(node.module)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }


def test_the_three_lists_of_names_agree() -> None:
    assert len(sim.__all__) == len(set(sim.__all__))
    assert set(sim._HOME) == set(sim.__all__)
    assert imported_for_types() == sim._HOME


def test_star_import_and_dir_give_every_name() -> None:
    names: dict[str, object] = {}
    exec("from sim import *", names)
    assert set(sim.__all__) <= set(names)
    assert set(sim.__all__) <= set(dir(sim))
    assert "__version__" in dir(sim)
    with pytest.raises(AttributeError, match="no attribute 'comparre'"):
        sim.comparre  # noqa: B018


@pytest.mark.parametrize("name", sim.__all__)
def test_every_public_name_is_documented(name: str) -> None:
    member = getattr(sim, name)
    assert member.__module__.startswith(sim._HOME[name])
    said = inspect.getdoc(member)
    assert said
    assert said.splitlines()[0].endswith((".", ":"))
    if inspect.isclass(member) and issubclass(member, Scenario | Refused):
        return
    called = inspect.signature(member)
    for parameter in called.parameters.values():
        assert parameter.annotation is not parameter.empty, parameter
    if not inspect.isclass(member):
        assert called.return_annotation is not called.empty


def test_documented_errors_are_raised() -> None:
    comparison = sim.compare(sim.load("club-sixties", {"run": {"shots": 16}}))
    with pytest.raises(KeyError):
        sim.court_figure(comparison, "nobody")
    with pytest.raises(sim.ScenarioError, match="not a bundled scenario"):
        sim.load("nobody")
    with pytest.raises(Refused, match="above zero"):
        sim.Precision(0.0)


@pytest.mark.parametrize("part", range(2))
def test_every_module_imports_by_itself_without_a_warning(part: int) -> None:
    modules = MODULES[part::2]
    assert len(modules) > 20
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", _ALONE, *modules],
        capture_output=True,
        text=True,
        check=False,
        cwd=PACKAGE.parent,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
