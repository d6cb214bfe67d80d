"""Scenario files: where they are, how they build on each other, and errors that help."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError

from sim.errors import Refused, near_miss
from sim.input_files import UnreadableFile, content
from sim.plain_text import NOT_PLAIN, is_plain, quoted, shown_key, spelt_out
from sim.scenario import Scenario

DEFAULT: Final = "club-sixties"
# A measured sample of the largest size, written out.
_LARGEST_FILE: Final = 2_000_000
_DEEPEST_TABLE: Final = 12
_LONGEST_NAME: Final = 40
_MOST_PROBLEMS: Final = 20
# Of a folder's name, in bytes: file systems end at 255, and commands add to it.
_LONGEST_FOLDER: Final = 150
_LARGEST_INTEGER: Final = 2**63  # TOML 1.0.0, "Integer"
# Time to read a key with dots grows with the square of its parts.
_ENDLESS_KEY: Final = re.compile(
    r"""(?<![\w-])(?:(?:[A-Za-z0-9_-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){60}"""
)


class ScenarioError(Refused, ValueError):
    """What is wrong with a scenario, one line a problem, no more of them than anyone would read."""

    def __init__(self, problems: Iterable[str]) -> None:
        found = list(problems)
        self.problems = found[:_MOST_PROBLEMS]
        if len(found) > _MOST_PROBLEMS:
            self.problems.append(f"... and {len(found) - _MOST_PROBLEMS:,} more")
        super().__init__("\n".join(self.problems))


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
        raise ScenarioError(dict.fromkeys(_problems(error, file.shown_path, tables))) from None


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


def template(parent: ScenarioFile) -> str:
    """A scenario to fill in that says what the bundled one says it builds on."""
    loaded = build(parent)
    text = _TEMPLATE.replace("PARENT", parent.short_name)
    for name, player in (("LEFT", loaded.pair.left), ("RIGHT", loaded.pair.right)):
        inches = round(12.0 * player.height)
        text = text.replace(f"{name}_HEIGHT", f"{inches // 12} ft {inches % 12} in")
    return text.replace("LEVEL", loaded.opponents.level)


def json_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of scenario files."""
    schema = Scenario.model_json_schema(mode="validation")
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "reachshare scenario"
    schema["properties"]["extends"] = {"enum": bundled(), "description": "scenario to build on"}
    # A scenario without a name takes its file's.
    schema["required"] = [name for name in schema.get("required", []) if name != "name"]
    return schema


_TEMPLATE: Final = """\
# A scenario to fill in. Every line that starts with # is a remark; take the # away to use it.
# Quantities carry their unit: "5 ft 7 in", "1.70 m", "38 mph", "61 km/h", "0.30 s".
# All settings, with their defaults: reachshare scenario show --full
extends = "PARENT"
name = "My pair"
question = "What should this pair be taught?"

[pair.left]                  # left and right as the pair faces the net
height = "LEFT_HEIGHT"
# handed = "left"
# age_group = "seventies"    # thirties, forties ... seventies: sets reaction and top speed
# top_speed = "12 ft/s"      # or measure it: see the README
# full_stretch = "70 in"     # from the middle of the standing mark to the tip of the paddle

[pair.right]
height = "RIGHT_HEIGHT"

[return_of_serve]
# side = "odd"               # even: the right-hand player returns; odd: the left-hand one

[run_in]
# partner_starts = "line"    # the returner's partner waits at the line; baseline: both are back

[opponents]
level = "LEVEL"                # 3.0, 3.5, 4.0, 4.5, 5.0 or professional
# shots = { drive = 60, drop = 35, lob = 5 }       # what they play, if you have counted it
# lanes = { line = 35, middle = 40, cross = 25 }   # where they aim it

# [opponents.drive]
# speed = { kind = "normal", mean = "38 mph", sd = "4 mph" }

# [air]
# wind_from_behind = "6 mph"

# Policies of your own replace the usual ones.
# [[policies]]
# name = "halves"
# rule = "halves"
#
# [[policies]]
# name = "follow, six feet apart"
# rule = "follow"
# spacing = "6 ft"
# shift = 0.4
"""


def _looks_like_path(name: str) -> bool:
    return name.endswith(".toml") or "/" in name or "\\" in name or os.path.isfile(name)


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
        raise ScenarioError([f"{shown}: {_TOO_DEEP}"])
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        hint = 'text and quantities stand in straight quotes, as in height = "5 ft 7 in"'
        raise ScenarioError([f"{shown}: not valid TOML: {error}; {hint}"]) from None
    except ValueError:
        # More digits than Python makes a number of.
        raise ScenarioError([f"{shown}: {_TOO_LARGE}"]) from None
    except RecursionError:
        raise ScenarioError([f"{shown}: {_TOO_DEEP}"]) from None
    check_tables(tables, shown)
    return tables


def check_tables(tables: dict[str, Any], shown: str) -> None:
    """Raise `ScenarioError` for what no setting may be, before anything looks into the tables."""
    waiting: list[tuple[tuple[str | int, ...], Any]] = [((), tables)]
    while waiting:
        keys, value = waiting.pop()
        wrong = ""
        if len(keys) > _DEEPEST_TABLE:
            wrong = f": {_TOO_DEEP}"
        elif isinstance(value, dict):
            waiting += [((*keys, str(key)), inner) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [((*keys, place), inner) for place, inner in enumerate(value)]
        elif isinstance(value, str) and not is_plain(value):
            wrong = f" = {quoted(value)}: {NOT_PLAIN}"
        elif isinstance(value, int) and abs(value) >= _LARGEST_INTEGER:
            wrong = f": {_TOO_LARGE}"
        if wrong:
            raise ScenarioError([f"{shown}: {_dotted(list(keys))}{wrong}"])


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


def _problems(error: ValidationError, shown: str, tables: dict[str, Any]) -> Iterable[str]:
    for problem in error.errors():
        where, kind, message = problem["loc"], problem["type"], problem["msg"]
        # A union tells each of its branches' complaints; the branch names are not keys.
        keys = [
            part for part in where if isinstance(part, int) or part in _keys_along(tables, where)
        ]
        if kind == "literal_error" and len(keys) < len(where) and "function" not in str(where[-1]):
            continue
        key = _dotted(keys)
        if kind == "extra_forbidden":
            known = _known_keys(keys[:-1])
            near = near_miss(str(keys[-1]), known)
            message = f"unknown key{near}; known here: {', '.join(known)}"
            yield f"{shown}: {key}: {message}"
            continue
        if kind == "missing":
            key = _dotted([*keys, *(part for part in where[len(keys) :] if part not in keys)])
            yield f"{shown}: {key}: must be given"
            continue
        message = message.removeprefix("Value error, ").removeprefix("Assertion failed, ")
        if kind in ("literal_error", "union_tag_invalid"):
            allowed = problem["ctx"].get("expected") or problem["ctx"]["expected_tags"]
            words = [word.strip("' ") for word in allowed.replace(" or ", ", ").split(",")]
            given = problem["ctx"].get("tag", problem["input"])
            near = near_miss(quoted(given).strip('"'), words)
            message = f"must be one of {', '.join(words)}{near}"
            if kind == "union_tag_invalid":
                key, problem["input"] = f"{key}.kind", given
        elif kind in ("model_type", "list_type"):
            message = f"must be a {'table' if kind == 'model_type' else 'list'}"
        elif kind == "union_tag_not_found":
            key, message = f"{key}.kind", f"must be given: one of {', '.join(_KINDS)}"
        elif not message.startswith("must"):
            message = message[0].lower() + message[1:]
            message = message.replace("input should be", "must be")
        given = problem["input"]
        value = "" if isinstance(given, dict | list | BaseModel) else f" = {quoted(given)}"
        yield f"{shown}: {key}{value}: {message}" if key else f"{shown}: {message}"


def _keys_along(tables: Any, where: tuple[int | str, ...]) -> set[str]:
    """All parts of an error's place that are really keys: those of the tables or of the schema."""
    found = {part for part in where if isinstance(part, str) and part in _ALL_KEYS}
    here: Any = tables
    for part in where:
        if isinstance(here, dict) and part in here:
            found.add(str(part))
            here = here[part]
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            here = here[part]
    return found


def _dotted(keys: list[int | str]) -> str:
    text = ""
    for key in keys:
        if isinstance(key, int):
            text += f"[{key + 1}]"
        else:
            plain = shown_key(key)
            text += f".{plain}" if text else plain
    return text


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for argument in get_args(annotation) for model in _models_in(argument)]


def _known_keys(path: list[int | str]) -> list[str]:
    models: list[type[BaseModel]] = [Scenario]
    for key in path:
        if isinstance(key, str):
            models = [
                inner
                for model in models
                if key in model.model_fields
                for inner in _models_in(model.model_fields[key].annotation)
            ]
    known = dict.fromkeys(name for model in models for name in model.model_fields)
    return [*known, "extends"] if not path else list(known)


def _collect_keys(model: type[BaseModel]) -> set[str]:
    keys = set(model.model_fields)
    for entry in model.model_fields.values():
        for inner in _models_in(entry.annotation):
            keys |= _collect_keys(inner)
    return keys


_TOO_LARGE: Final = "whole numbers lie between -2^63 and 2^63; take the digits away"
_TOO_DEEP: Final = f"tables nested more than {_DEEPEST_TABLE} deep; no setting lies there"
_KINDS: Final = ("constant", "normal", "truncated", "uniform", "triangular", "list", "sample")
_ALL_KEYS: Final = _collect_keys(Scenario)
