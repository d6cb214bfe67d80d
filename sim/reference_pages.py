"""Pages of the documentation that are made from the program itself.

``python -m sim.reference_pages`` writes them into ``sim/docs``; a test fails when they drift.
"""

from __future__ import annotations

import inspect
from pathlib import Path
from typing import Any

import click

import sim
from sim.cli import main
from sim.opponents import LEVELS
from sim.players import AGE_GROUPS
from sim.quantities import TAGS
from sim.scenario import Scenario
from sim.settings import Setting, settings

_LINE = 88


def commands_page() -> str:
    """The command reference, from the commands' own help."""
    page = ["# Commands", "", "Made from `--help` by `python -m sim.reference_pages`.", ""]
    for path, command in _commands(main, ("reachshare",)):
        context = click.Context(
            command,
            info_name=" ".join(path),
            terminal_width=88,
            help_option_names=main.context_settings["help_option_names"],
        )
        page += [f"## {' '.join(path)}", "", "```", command.get_help(context), "```", ""]
    return "\n".join(page)


def _commands(
    command: click.Command, path: tuple[str, ...]
) -> list[tuple[tuple[str, ...], click.Command]]:
    found = [(path, command)]
    if isinstance(command, click.Group):
        for name, inner in sorted(command.commands.items()):
            found += _commands(inner, (*path, name))
    return found


def defaults_page() -> str:
    """Every default by key, with its tag and source."""
    page = ["# Defaults", "", "Made from the program by `python -m sim.reference_pages`.", ""]
    page += ["Keys are those of scenario files. Tags:", ""]
    page += [f"- [{tag}] {meaning}" for tag, meaning in TAGS.items()]
    page += ["", "| key | default | tag | source |", "| --- | --- | --- | --- |"]
    for entry in settings(Scenario(name="defaults")):
        if entry.tag and _shown(entry):
            key = entry.key.replace("pair.left.", "pair.left. and pair.right.").replace("[1]", "")
            page.append(f"| {key} | {entry.value} | [{entry.tag}] | {entry.source} |")
    page += ["", "## By age group [A]", "", "| age_group | reaction | top_speed |"]
    page += ["| --- | --- | --- |"]
    page += [f"| {name} | {v['reaction']} | {v['top_speed']} |" for name, v in AGE_GROUPS.items()]
    page += ["", "The reaction's spread is 0.04 s.", "", "## By level", ""]
    page += ["Shot shares [P], drive speeds and errors [A] (standard deviations).", ""]
    page += ["| level | drive / drop / lob | drive speed | speed | elevation | azimuth |"]
    page += ["| --- | --- | --- | --- | --- | --- |"]
    for name, level in LEVELS.items():
        shares = " / ".join(f"{share:g}" for share in level["shots"].values())
        speed, errors = level["speed"], level["errors"]
        spreads = " | ".join(errors[key]["sd"] for key in ("speed", "elevation", "azimuth"))
        page.append(f"| {name} | {shares} | {speed['mean']}, sd {speed['sd']} | {spreads} |")
    return "\n".join(page) + "\n"


def _shown(entry: Setting) -> bool:
    """Both players have the same defaults, and one policy stands for all."""
    other_policy = entry.key.startswith("policies[") and not entry.key.startswith("policies[1]")
    return not (entry.key.startswith("pair.right.") or other_policy)


_INTERFACE = (
    (
        "Made from the docstrings by `python -m sim.reference_pages`. What stands here is kept "
        "from one version to the next, or its change is in the [list of changes](changes.md); "
        "everything else in the package is not promised. Types come with the package "
        "(`py.typed`). For a notebook: the [example](../../README.md#in-a-notebook) in the README."
    ),
    (
        "Inside, lengths are in ft, speeds in ft/s, times in s and angles in rad; scenario files "
        'and `changes` say their own units (`"5 ft 7 in"`). Columns of frames that have a unit end '
        "in it (`_ft`, `_s`), a `share` goes from 0 to 1, `points` are percentage points, and "
        "`_low` and `_high` are the ends of a 95 % interval. Figures are in the units that "
        "they are asked for, `us` or `metric`."
    ),
    (
        "Errors that a user can mend are a `sim.errors.Refused`, whose text says how; "
        "`sim.ScenarioError` is one of them."
    ),
)


def interface_page() -> str:
    """The Python interface: every public name with its signature and docstring."""
    page = ["# The Python interface", ""]
    for paragraph in _INTERFACE:
        page += [paragraph, ""]
    for name in sim.__all__:
        member = getattr(sim, name)
        page += [f"## sim.{name}", "", "```python", _called(name, member), "```", ""]
        page += [_said(member), ""]
        if inspect.isclass(member):
            page += _parts(member)
    return "\n".join(page).rstrip() + "\n"


def _parts(member: type) -> list[str]:
    """The public attributes that a class has of its own, each with the first line about it."""
    if issubclass(member, Scenario):
        return ["Fields: see [defaults](defaults.md), where every key is one of them.", ""]
    fields = getattr(member, "__dataclass_fields__", {})
    own = {
        name: part
        for name, part in vars(member).items()
        if not name.startswith("_") and name not in fields and inspect.getdoc(part)
    }
    lines = [f"- `{name}`: {_said(part).splitlines()[0]}" for name, part in own.items()]
    return [*lines, ""] if lines else []


def _said(member: object) -> str:
    """A docstring, without the examples at its end."""
    said, _, _ = (inspect.getdoc(member) or "").partition("\n>>>")
    return said.strip().replace("``", "`")


class _AsWritten(str):
    """An annotation or default as it stands in the source."""

    def __repr__(self) -> str:
        return str(self)


def _called(name: str, member: Any) -> str:
    """How a function or class is called, with its types, on as many lines as it takes."""
    if inspect.isclass(member) and issubclass(member, Scenario):
        return f"class sim.{name}  # made by sim.load"
    signature = inspect.signature(member)
    words = []
    for parameter in signature.parameters.values():
        default = _AsWritten("...") if callable(parameter.default) else parameter.default
        written = parameter.default is not parameter.empty
        plain = parameter.replace(annotation=_AsWritten(parameter.annotation))
        words.append(str(plain.replace(default=default) if written else plain))
    kind = "class " if inspect.isclass(member) else ""
    result = "" if kind else f" -> {signature.return_annotation}"
    line = f"{kind}sim.{name}({', '.join(words)}){result}"
    if len(line) <= _LINE:
        return line
    return f"{kind}sim.{name}(\n" + "".join(f"    {word},\n" for word in words) + f"){result}"


def write_pages(folder: Path) -> list[Path]:
    """Write the pages into a folder."""
    pages = {
        "commands.md": commands_page(),
        "defaults.md": defaults_page(),
        "interface.md": interface_page(),
    }
    for name, text in pages.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return [folder / name for name in pages]


if __name__ == "__main__":
    for path in write_pages(Path(__file__).parent / "docs"):
        click.echo(f"wrote {path}")
