"""Scenario files: where they are, how they are read, and how they build on each other."""

from __future__ import annotations

import os
import re
import tomllib
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from sim.errors import near_miss
from sim.input_files import UnreadableFile, content
from sim.plain_text import quoted, spelt_out
from sim.scenario import Scenario
from sim.scenario_errors import (
    TOO_DEEP,
    TOO_LARGE,
    ScenarioError,
    check_tables,
    problems_in_words,
)

DEFAULT: Final = "club-sixties"
# A measured sample of the largest size, written out.
_LARGEST_FILE: Final = 2_000_000
_LONGEST_NAME: Final = 40
# Of a folder's name, in bytes: file systems end at 255, and commands add to it.
_LONGEST_FOLDER: Final = 150
# Time to read a key with dots grows with the square of its parts.
_ENDLESS_KEY: Final = re.compile(
    r"""(?<![\w-])(?:(?:[A-Za-z0-9_-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){60}"""
)


@dataclass(frozen=True)
class ScenarioFile:
    """A scenario as written: the file's short name, its tables (merged) and what they came from."""

    short_name: str
    text: str
    tables: dict[str, Any]
    folder: Path
    shown_path: str
    bundled: bool = False

    @property
    def to_type(self) -> str:
        """What names it on a command line typed beside it: never a folder."""
        return self.short_name if self.bundled else Path(self.shown_path).name


def bundled_folder() -> Path:
    """The bundled scenarios' folder: inside an installed package, or beside it in a checkout."""
    inside = Path(str(files("sim"))) / "scenarios"
    return inside if inside.is_dir() else inside.parent.parent / "scenarios"


def bundled() -> list[str]:
    """Names of the bundled scenarios.

    >>> "club-sixties" in bundled()
    True
    """
    return sorted(path.stem for path in bundled_folder().glob("*.toml"))


def load(source: str | Path | None = None, changes: dict[str, Any] | None = None) -> Scenario:
    """Load a bundled scenario by name, or a TOML file by path; the default one when left out.

    ``changes`` are tables laid over the file's, with the same keys.

    Raises `ScenarioError` that names file, key and value and says what is allowed.
    """
    return build(read(source), changes)


def read(source: str | Path | ScenarioFile | None = None) -> ScenarioFile:
    """Read a scenario's tables, merged with those it builds on, without checking their values.

    One that has been read is taken as it is.
    """
    if isinstance(source, ScenarioFile):
        return source
    name = str(DEFAULT if source is None else source)
    if _looks_like_path(name):
        path = Path(name)
        if not os.path.exists(name):
            raise ScenarioError([f"{spelt_out(name)}: there is no such file"])
        text = _text(path, name)
        tables = _extended(_parse(text, name), name, ())
        return ScenarioFile(_short_name(path), text, tables, path.parent, name)
    if name not in bundled():
        file = f"{name}.toml"
        near = f' (did you mean "{file}"?)' if os.path.isfile(file) else near_miss(name, bundled())
        known = ", ".join(bundled())
        raise ScenarioError(
            [
                f"{quoted(name)} is not a bundled scenario{near}; there are: {known}; "
                "or give a .toml file"
            ]
        )
    path, shown = bundled_folder() / f"{name}.toml", f"{name}.toml"
    text = _text(path, shown)
    tables = _extended(_parse(text, shown), shown, (name,))
    return ScenarioFile(name, text, tables, path.parent, shown, bundled=True)


def build(file: ScenarioFile, changes: dict[str, Any] | None = None) -> Scenario:
    """Check a scenario's values and make it; see `load`."""
    check_tables(changes or {}, file.shown_path)
    tables = overlay(file.tables, changes or {})
    tables.setdefault("name", file.short_name[:_LONGEST_NAME])
    try:
        return Scenario.model_validate(tables, context={"folder": file.folder})
    except ValidationError as error:
        problems = problems_in_words(error, file.shown_path, tables)
        raise ScenarioError(dict.fromkeys(problems)) from None


def overlay(under: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    """Lay a scenario's tables over those it builds on; see `merge`.

    New policies take the old ones' baseline away with them.

    >>> overlay({"run": {"baseline": "a"}, "policies": []}, {"policies": [1]})
    {'run': {}, 'policies': [1]}
    """
    if "policies" in over and isinstance(under.get("run"), dict):
        kept = {key: value for key, value in under["run"].items() if key != "baseline"}
        under = under | {"run": kept}
    return merge(under, over)


def merge(under: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    """Lay one set of tables over another, table by table; lists and distributions are replaced.

    >>> merge({"run": {"shots": 100, "seed": 1}}, {"run": {"seed": 2}})
    {'run': {'shots': 100, 'seed': 2}}
    """
    merged = dict(under)
    for key, value in over.items():
        below = merged.get(key)
        whole = "kind" in value if isinstance(value, dict) and key != "ball" else False
        if isinstance(value, dict) and isinstance(below, dict) and not whole:
            merged[key] = merge(below, value)
        else:
            merged[key] = value
    return merged


def nested(key: str, value: Any) -> dict[str, Any]:
    """Tables that hold one value under a key with dots.

    >>> nested("pair.left.height", "5 ft 2 in")
    {'pair': {'left': {'height': '5 ft 2 in'}}}
    """
    table: Any = value
    for part in reversed(key.strip().split(".")):
        table = {part.strip(): table}
    return dict(table)


def _looks_like_path(name: str) -> bool:
    if name.endswith(".toml") or "/" in name or "\\" in name:
        return True
    # A file that has the name of a bundled scenario is given with its folder: ./club-sixties.
    return name not in bundled() and os.path.isfile(name)


def _short_name(path: Path) -> str:
    """What a file's results are called: its name without the ending, never a way to elsewhere."""
    whole = path.stem.strip(". ") or "scenario"
    return whole.encode()[:_LONGEST_FOLDER].decode(errors="ignore")


def _text(path: Path, shown: str) -> str:
    try:
        text = content(path, _LARGEST_FILE).decode("utf-8-sig")
        return text.replace("\r\n", "\n").replace("\r", "\n")
    except UnreadableFile as why:
        raise ScenarioError([f"{shown}{why}"]) from None
    except UnicodeDecodeError:
        raise ScenarioError([f"{shown}: not UTF-8 text; save it as UTF-8"]) from None


def _parse(text: str, shown: str) -> dict[str, Any]:
    if _ENDLESS_KEY.search(text):
        raise ScenarioError([f"{shown}: {TOO_DEEP}"])
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        hint = 'text and quantities stand in straight quotes, as in height = "5 ft 7 in"'
        raise ScenarioError([f"{shown}: not valid TOML: {error}; {hint}"]) from None
    except ValueError:
        # More digits than Python makes a number of.
        raise ScenarioError([f"{shown}: {TOO_LARGE}"]) from None
    except RecursionError:
        raise ScenarioError([f"{shown}: {TOO_DEEP}"]) from None
    check_tables(tables, shown)
    return tables


def _extended(tables: dict[str, Any], shown: str, before: tuple[str, ...]) -> dict[str, Any]:
    """Resolve ``extends``, which names a bundled scenario."""
    tables = dict(tables)
    parent = tables.pop("extends", None)
    if parent is None:
        return tables
    if not isinstance(parent, str) or parent not in bundled():
        near = near_miss(quoted(parent).strip('"'), bundled())
        raise ScenarioError(
            [
                f"{shown}: extends = {quoted(parent)}: not a bundled scenario{near}; "
                f"allowed: {', '.join(bundled())}; a scenario builds on a bundled one "
                "only, never on a file"
            ]
        )
    if parent in before:
        raise ScenarioError([f"{shown}: extends = {quoted(parent)}: goes round in a circle"])
    name = f"{parent}.toml"
    below = _extended(_parse(_text(bundled_folder() / name, name), name), name, (*before, parent))
    # A scenario without a name of its own takes its file's, not that of what it builds on.
    below.pop("name", None)
    return overlay(below, tables)
