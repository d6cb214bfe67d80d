"""Pages of the documentation that are made from the program itself.

``python -m sim.reference_pages`` writes them into ``sim/docs``; a test fails when they drift.
"""

from __future__ import annotations

from pathlib import Path

import click

from sim.cli import main
from sim.opponents import LEVELS
from sim.players import AGE_GROUPS
from sim.quantities import TAGS
from sim.scenario import Scenario
from sim.settings import Setting, settings


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


def write_pages(folder: Path) -> list[Path]:
    """Write both pages into a folder."""
    pages = {"commands.md": commands_page(), "defaults.md": defaults_page()}
    for name, text in pages.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return [folder / name for name in pages]


if __name__ == "__main__":
    for path in write_pages(Path(__file__).parent / "docs"):
        click.echo(f"wrote {path}")
