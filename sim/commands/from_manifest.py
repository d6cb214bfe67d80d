"""A command and its parameters from a manifest: what was typed, read as if it were typed again."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from sim.errors import near_miss

if TYPE_CHECKING:
    from sim.rebuilding import Manifest
    from sim.scenario_files import ScenarioFile

# Parameters whose say stands in the scenario's tables already.
_SAID_BY_TABLES: Final[dict[str, Any]] = {
    "changes": (),
    "shots": None,
    "seed": None,
    "sampling": None,
    "baseline": None,
}


def commands(group: click.Command) -> dict[str, click.Command]:
    """All commands that write a manifest; those of a group by both names: ``fit shots``."""
    found: dict[str, click.Command] = {}
    for name, command in getattr(group, "commands", {}).items():
        if isinstance(command, click.Group):
            found |= {f"{name} {inner}": one for inner, one in commands(command).items()}
        elif "out" in _names(command) and "manifest" not in _names(command):
            found[name] = command
    return found


def spelt(parameter: click.Parameter) -> str:
    """What manifests call an option: its long name, without hyphens; an argument has one name.

    >>> spelt(click.Option(["-v", "--vary-input", "own"]))
    'vary_input'
    """
    if isinstance(parameter, click.Argument):
        return str(parameter.name)
    return max(parameter.opts, key=len).lstrip("-").replace("-", "_")


def kept(command: click.Command) -> dict[str, click.Parameter]:
    """Those parameters of a command that its manifests hold by name, as options or input files."""
    from sim.manifest import OF_THE_LIKENESS, OF_THE_SCENARIO, WITHOUT_EFFECT

    known = {spelt(each): each for each in command.params if each.expose_value}
    told = OF_THE_LIKENESS if "like" in known else OF_THE_SCENARIO
    return {
        name: parameter
        for name, parameter in known.items()
        if name not in told and name not in WITHOUT_EFFECT
    }


def command_of(manifest: Manifest, path: Path) -> click.Command:
    """The command that the manifest at ``path`` names.

    Raises `ManifestError` for one that writes no manifests.
    """
    from sim.rebuilding import ManifestError

    found = commands(click.get_current_context().find_root().command)
    if manifest.command not in found:
        asked = manifest.command[:40]
        raise ManifestError(
            f"{path}: options: command: {asked!r} makes no run{near_miss(asked, found)}; "
            f"it must be one of {', '.join(found)}"
        )
    return found[manifest.command]


def parameters(
    command: click.Command,
    manifest: Manifest,
    path: Path,
    scenario: ScenarioFile,
    files: Sequence[tuple[str, Path]],
) -> dict[str, Any]:
    """What the command is to be called with: the scenario, the input ``files`` with their uses,
    and the options of the manifest at ``path``.

    Raises `ManifestError` for what could not have been typed.
    """
    from sim.rebuilding import ManifestError

    known = kept(command)
    given = _given(manifest, known, files, path)
    if unknown := [name[:40] for name in given if name not in known]:
        raise ManifestError(
            f"{path}: options: {unknown[0]!r} is no option of reachshare {manifest.command}"
            f"{near_miss(unknown[0], known)}"
        )
    names = _names(command)
    values = {name: value for name, value in _SAID_BY_TABLES.items() if name in names}
    values["like" if "like" in names else "scenario"] = scenario
    for name, parameter in known.items():
        where = f"{path}: options: {name}"
        if name in given:
            values[str(parameter.name)] = _as_typed(parameter, given[name], where)
        elif parameter.required:
            raise ManifestError(f"{where}: must be given")
    return values


def _given(
    manifest: Manifest,
    known: dict[str, click.Parameter],
    files: Sequence[tuple[str, Path]],
    path: Path,
) -> dict[str, Any]:
    """Options with their values, those aside that were not given; files as their paths.

    Raises `ManifestError` for options that would have any file of this computer read.
    """
    from sim.manifest import SAMPLE
    from sim.rebuilding import ManifestError

    given = {
        name: value
        for name, value in manifest.options.items()
        if not (name == "command" or value is None or value is False or value == [])
    }
    for name in given:
        if name in known and isinstance(known[name].type, click.Path):
            raise ManifestError(
                f"{path}: options: {name}: names a file; a manifest holds every file that its run "
                "has read among its inputs"
            )
    for use, file in files:
        if use != SAMPLE:
            several = use in known and _takes_several(known[use])
            given[use] = [*given.get(use, []), str(file)] if several else str(file)
    return given


def _as_typed(parameter: click.Parameter, value: Any, where: str) -> Any:
    """A value of a manifest, read as a command reads what is typed."""
    from sim.rebuilding import ManifestError

    if getattr(parameter, "is_flag", False):
        if not isinstance(value, bool):
            raise ManifestError(f"{where}: must be true or false")
        return value
    several = _takes_several(parameter)
    parts = value if isinstance(value, list) else [value]
    plain = all(
        isinstance(part, str | int | float) and not isinstance(part, bool) for part in parts
    )
    if not plain or several != isinstance(value, list):
        kind = "a list of words or numbers" if several else "a word or a number"
        raise ManifestError(f"{where}: must be {kind}")
    typed = [str(part) for part in parts]
    try:
        return parameter.process_value(click.get_current_context(), typed if several else typed[0])
    except click.UsageError as error:
        raise ManifestError(f"{where}: {error.message}") from None


def _takes_several(parameter: click.Parameter) -> bool:
    return parameter.multiple or parameter.nargs != 1


def _names(command: click.Command) -> list[str]:
    return [str(parameter.name) for parameter in command.params]
