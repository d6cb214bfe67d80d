"""The commands that list, show, make and check scenarios."""

from __future__ import annotations

from pathlib import Path

import click

from sim.errors import Refused
from sim.terminal import HelpfulGroup, echo, errors_to_exit_codes, tell, units_option


@click.group(cls=HelpfulGroup)
def scenario() -> None:
    """List, show, make and check scenarios."""


@scenario.command("list")
def list_() -> None:
    """List the bundled scenarios with their questions."""
    from sim.scenario_files import bundled, load

    with errors_to_exit_codes():
        width = max(map(len, bundled()))
        for name in bundled():
            loaded = load(name)
            echo(f"{name:{width}}  {loaded.name}. {loaded.question}")


@scenario.command()
@click.argument("scenario", required=False)
@click.option("--full", is_flag=True, help="Every setting with its value, tag and source.")
@units_option
def show(scenario: str | None, full: bool, units: str) -> None:
    """Show SCENARIO as written, or with --full every setting that a run of it uses."""
    from sim.scenario_files import build, read

    with errors_to_exit_codes():
        file = read(scenario)
        loaded = build(file)
        if not full:
            echo(file.text.rstrip("\n"))
            return
        from sim.quantities import TAGS
        from sim.settings import settings

        for tag, meaning in TAGS.items():
            echo(f"[{tag}] {meaning}")
        echo("given: set by the scenario, not a default\n")
        entries = settings(loaded, units)
        key_width = max(len(entry.key) for entry in entries)
        for entry in entries:
            label = "given" if entry.given else f"[{entry.tag}] {entry.source}" if entry.tag else ""
            echo(f"{entry.key:{key_width}}  {entry.value}  {label}".rstrip())


@scenario.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--like", help="Bundled scenario to build on.  [default: club-sixties]")
def new(file: Path, like: str | None) -> None:
    """Write a scenario to fill in to FILE (.toml), building on a bundled one."""
    from sim.outputs import write_new_file
    from sim.scenario_files import DEFAULT, bundled, read
    from sim.scenario_template import template
    from sim.shell_words import to_copy

    with errors_to_exit_codes():
        if file.suffix != ".toml":
            raise Refused(f"{file}: the name must end in .toml")
        if like and like not in bundled():
            raise Refused(f"--like {like}: must be one of {', '.join(bundled())}")
        base = read(like or DEFAULT)
        write_new_file(file, template(base))
        tell(f"Wrote {file}. Edit it, then: reachshare compare {to_copy(file)}")


@scenario.command()
@click.argument("scenario")
def check(scenario: str) -> None:
    """Check SCENARIO and say what is wrong with it, if anything."""
    from sim.scenario_files import load

    with errors_to_exit_codes():
        loaded = load(scenario)
        policies = len(loaded.policies)
        words = "1 policy" if policies == 1 else f"{policies} policies"
        echo(f"{scenario}: good: {loaded.name}, {words}")


@scenario.command()
def schema() -> None:
    """Print the JSON Schema of scenario files, for editors."""
    import json

    from sim.scenario_template import json_schema

    with errors_to_exit_codes():
        echo(json.dumps(json_schema(), indent=2, ensure_ascii=False))
