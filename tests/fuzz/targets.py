"""What is fuzzed: every reader of text that people or other programs wrote.

A target takes any bytes. It returns what the reader made of them, or the message with which the
reader refused them. Any other exception is a defect, and so is a message that nobody can read.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from typing import Any, Final

import click

from sim.chart_forms import DASHES, THIRD_SHOTS
from sim.charts import Form, read_chart
from sim.cli import main
from sim.commands.from_manifest import command_of, parameters
from sim.commands.shared import changes_of
from sim.errors import Refused
from sim.joint_draws import read_draws, scenarios_of
from sim.manifest import manifest_of
from sim.numeric_settings import changer
from sim.outputs import MANIFEST, check_folder, whole_folder, write_manifest
from sim.rebuilding import lay_out, put_inputs, read_manifest
from sim.run_store import RunStore
from sim.scenario import Scenario
from sim.scenario_files import ScenarioFile, build, read
from sim.settings import settings
from sim.toml_text import toml_text
from sim.units import UNITS, parse_quantity

# Arguments of a command line cannot hold this letter; it stands between those of one input.
BETWEEN: Final = b"\0"


class Defect(Exception):
    """A reader neither gave a valid result nor refused in words that can be read."""


@cache
def _scratch() -> Path:
    """A folder for this process; what stands in it is written over by every input."""
    folder = tempfile.TemporaryDirectory(prefix="reachshare-fuzz-")
    _KEPT.append(folder)
    return Path(folder.name)


_KEPT: Final[list[tempfile.TemporaryDirectory[str]]] = []


def _written(name: str, data: bytes) -> Path:
    path = _scratch() / name
    path.write_bytes(data)
    return path


def _message(error: Exception, text: str) -> str:
    """What the user is told: something, and letters only (a terminal would obey the others)."""
    if not text.strip():
        raise Defect("refused without a word") from error
    for line in text.split("\n"):
        if not line.isprintable():
            raise Defect(f"not fit to be shown: {line!r}") from error
    return text


def scenario(data: bytes) -> Scenario | str:
    """A scenario file; what it says is the same when it is written out and read again."""
    path = _written("scenario.toml", data)
    try:
        file = read(path)
        found = build(file)
    except Refused as error:
        return _message(error, str(error))
    _check_shown(found, file, file.tables)
    again = _written("again.toml", toml_text(file.tables | {"name": found.name}).encode())
    if build(read(again)) != found:
        raise Defect("another scenario when written out")
    return found


def _check_shown(found: Scenario, file: ScenarioFile, tables: dict[str, Any]) -> None:
    """A scenario that is accepted can be listed and kept in a manifest."""
    lines = settings(found, "metric")
    if not all(line.value.isprintable() for line in lines):
        raise Defect("a value that cannot be shown")
    json.dumps(manifest_of(found, file, tables, {})).encode()


@cache
def _default() -> ScenarioFile:
    return read(None)


def changes(data: bytes) -> Scenario | str:
    """``--set KEY=VALUE``, as the operating system hands over arguments."""
    pairs = tuple(part.decode("utf-8", "surrogateescape") for part in data.split(BETWEEN))
    try:
        tables = changes_of(pairs)
        found = build(_default(), tables)
    except Refused as error:
        return _message(error, str(error))
    except click.ClickException as error:
        return _message(error, error.format_message())
    _check_shown(found, _default(), tables)
    return found


def _chart(name: str, form: Form, data: bytes) -> Any:
    try:
        return read_chart(_written(name, data), form)
    except Refused as error:
        return _message(error, str(error))


def third_shots(data: bytes) -> Any:
    """The chart of ``fit shots``."""
    return _chart("shots.csv", THIRD_SHOTS, data)


def dashes(data: bytes) -> Any:
    """The chart of ``fit runs``."""
    return _chart("dashes.csv", DASHES, data)


@cache
def _with_numbers() -> Callable[[Mapping[str, float]], Scenario]:
    return changer(_default(), {})


def draws(data: bytes) -> Any:
    """A file for ``--with-uncertainty``, and the first scenarios made of it."""
    try:
        found = read_draws(_written("draws.csv", data), build(_default()))
        return scenarios_of([found], 2, 0, _with_numbers())
    except Refused as error:
        return _message(error, str(error))


def sample(data: bytes) -> Scenario | str:
    """A measured sample in place of a distribution."""
    path = _written("sample.csv", data)
    speed = {"kind": "sample", "file": path.name, "column": "speed", "unit": "mph"}
    tables = {"opponents": {"drive": {"speed": speed}}}
    try:
        return build(ScenarioFile("sample", "", tables, path.parent, "sample.toml"))
    except Refused as error:
        return _message(error, str(error))


def quantity(data: bytes) -> Any:
    """A number with its unit, of every dimension."""
    text = data.decode("utf-8", "replace")
    found: dict[str, float | str] = {}
    for dimension in UNITS:
        try:
            found[dimension] = parse_quantity(text, dimension)
        except ValueError as error:
            found[dimension] = _message(error, str(error))
    return found


def manifest(data: bytes) -> str:
    """The manifest of an earlier run in the output folder, which may be anybody's file."""
    folder = _scratch() / "results"
    folder.mkdir(exist_ok=True)
    (folder / MANIFEST).write_bytes(data)
    now = {"program": "reachshare", "version": "1", "scenario_digest": "0", "options": {"units": 1}}
    told = "the same run"
    try:
        check_folder(folder, now, force=False)
    except Refused as error:
        told = _message(error, str(error))
    try:
        with whole_folder(folder) as scratch:
            write_manifest(scratch, now)
    except Refused as error:
        told = _message(error, str(error))
    return told


def run_store(data: bytes) -> int | str:
    """What says which run the blocks left in a run store belong to."""
    folder = _scratch() / "results.unfinished"
    folder.mkdir(exist_ok=True)
    (folder / "run.json").write_bytes(data)
    (folder / "block-000000.tally").touch()
    try:
        return RunStore(folder, build(_default())).open(resume=True)
    except Refused as error:
        return _message(error, str(error))


def rebuild(data: bytes) -> dict[str, Any] | str:
    """A manifest that a run is to be made again from: what its command would be called with."""
    folder = _scratch() / "read"
    folder.mkdir(exist_ok=True)
    path = _written("sent.json", data)
    try:
        told = read_manifest(path)
        files = [*put_inputs(told, path, [], folder)]
        with click.Context(main):
            command = command_of(told, path)
            return parameters(command, told, path, lay_out(told, path, folder), files)
    except Refused as error:
        return _message(error, str(error))


TARGETS: Final[dict[str, Callable[[bytes], Any]]] = {
    "scenario": scenario,
    "changes": changes,
    "third_shots": third_shots,
    "dashes": dashes,
    "draws": draws,
    "sample": sample,
    "quantity": quantity,
    "manifest": manifest,
    "rebuild": rebuild,
    "run_store": run_store,
}
