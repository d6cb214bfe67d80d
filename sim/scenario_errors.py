"""What is wrong with a scenario, in words that name the key and say how to mend it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sim.errors import Refused, near_miss
from sim.plain_text import NOT_PLAIN, is_plain, quoted, shown_key
from sim.scenario import Scenario

DEEPEST_TABLE: Final = 12
_MOST_PROBLEMS: Final = 20
_TOO_LARGE: Final = 2**63  # TOML 1.0.0, "Integer"
TOO_LARGE: Final = "whole numbers lie between -2^63 and 2^63 - 1; write one with fewer digits"
TOO_DEEP: Final = f"tables nested more than {DEEPEST_TABLE} deep; no setting lies there"
_KINDS: Final = ("constant", "normal", "truncated", "uniform", "triangular", "list", "sample")
_EXTENDS: Final = (
    "stands only at the top of a scenario file; to build on a bundled scenario here, give its name "
    "in place of this one"
)
_ONE_POLICY: Final = (
    "must be a list, which is replaced as a whole; to change one policy write them all in a file "
    "of your own, each under [[policies]], or try values of it with reachshare sweep, such as "
    '--vary "policies.follow.spacing=6:8:1 ft"'
)


class ScenarioError(Refused, ValueError):
    """What is wrong with a scenario, one line a problem, no more of them than anyone would read."""

    def __init__(self, problems: Iterable[str]) -> None:
        found = list(problems)
        self.problems = found[:_MOST_PROBLEMS]
        if len(found) > _MOST_PROBLEMS:
            self.problems.append(f"... and {len(found) - _MOST_PROBLEMS:,} more")
        super().__init__("\n".join(self.problems))


def check_tables(tables: dict[str, Any], shown: str) -> None:
    """Raise `ScenarioError` for what no setting may be, before anything looks into the tables."""
    waiting: list[tuple[tuple[str | int, ...], Any]] = [((), tables)]
    while waiting:
        keys, value = waiting.pop()
        wrong = ""
        if len(keys) > DEEPEST_TABLE:
            wrong = f": {TOO_DEEP}"
        elif isinstance(value, dict):
            waiting += [((*keys, str(key)), inner) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [((*keys, place), inner) for place, inner in enumerate(value)]
        elif isinstance(value, str) and not is_plain(value):
            wrong = f" = {quoted(value)}: {NOT_PLAIN}"
        elif isinstance(value, int) and not -_TOO_LARGE <= value < _TOO_LARGE:
            wrong = f" = {quoted(value)}: {TOO_LARGE}"
        if wrong:
            raise ScenarioError([f"{shown}: {_dotted(list(keys))}{wrong}"])


def problems_in_words(error: ValidationError, shown: str, tables: dict[str, Any]) -> Iterator[str]:
    """What pydantic found in the ``tables`` of the file ``shown``, a line for each problem."""
    for problem in error.errors():
        where = problem["loc"]
        # A union tells each of its branches' complaints; the branch names are not keys.
        keys = [
            part for part in where if isinstance(part, int) or part in _keys_along(tables, where)
        ]
        of_a_branch = len(keys) < len(where) and "function" not in str(where[-1])
        if problem["type"] == "literal_error" and of_a_branch:
            continue
        if problem["type"] == "missing":
            keys += [part for part in where[len(keys) :] if part not in keys]
        place, given, message = _in_words(problem, keys)
        value = "" if isinstance(given, dict | list | BaseModel) else f" = {quoted(given)}"
        yield f"{shown}: {place}{value}: {message}" if place else f"{shown}: {message}"


def _in_words(problem: ErrorDetails, keys: list[int | str]) -> tuple[str, object, str]:
    """Where a problem is, the value given there (a table for none to show), and what is allowed."""
    place, given, about = _dotted(keys), problem["input"], problem.get("ctx", {})
    match problem["type"]:
        case "extra_forbidden" if keys == ["extends"]:
            return place, {}, _EXTENDS
        case "extra_forbidden":
            known = _known_keys(keys[:-1])
            near = near_miss(str(keys[-1]), known)
            return place, {}, f"unknown key{near}; known here: {', '.join(known)}"
        case "missing":
            return place, {}, "must be given"
        case "literal_error":
            return place, given, _one_of(about["expected"], given)
        case "union_tag_invalid":
            # A sample is read into a list before kinds are told apart.
            return f"{place}.kind", about["tag"], _one_of(", ".join(_KINDS), about["tag"])
        case "union_tag_not_found":
            return f"{place}.kind", given, f"must be given: one of {', '.join(_KINDS)}"
        case "model_type":
            return place, given, "must be a table"
        case "list_type" if keys == ["policies"] and isinstance(given, dict):
            return place, given, _ONE_POLICY
        case "list_type":
            return place, given, "must be a list"
    message = problem["msg"].removeprefix("Value error, ")
    if not message.startswith("must"):
        message = message[0].lower() + message[1:]
        message = message.replace("input should be", "must be")
    return place, given, message


def _one_of(expected: str, given: object) -> str:
    """What pydantic lists as allowed, and which of it was perhaps meant."""
    words = [word.strip("' ") for word in expected.replace(" or ", ", ").split(",")]
    near = near_miss(quoted(given).strip('"'), words)
    return f"must be one of {', '.join(words)}{near}"


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


_ALL_KEYS: Final = _collect_keys(Scenario)
