"""Measured samples: columns of CSV files that a scenario names.

A scenario may come from anybody, and what is wrong with a sample is shown in an error. So it lies
beside the scenario or in a folder below it, and nothing else is ever opened.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import Any, Final, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from sim.errors import Refused
from sim.input_files import UnreadableFile, content, csv_lines
from sim.plain_text import is_plain, quoted, some_of

LARGEST_SAMPLE: Final = 100_000
_LARGEST_FILE: Final = 10_000_000
_WHERE: Final = (
    "a sample lies beside the scenario or in a folder below it: write its name, with / between "
    "folders, and without drive, .. or a / in front"
)


class SampleError(Refused, ValueError):
    """What is wrong with a sample."""


class Sample(BaseModel):
    """How a measured sample is named: a column of a CSV file beside the scenario, and its unit.

    It is read with the scenario and becomes a list of equally likely values.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    kind: Literal["sample"]
    file: str
    column: str
    unit: str


def sample_of(table: Mapping[str, Any]) -> Sample:
    """A sample as a scenario writes it. Raises `SampleError`."""
    try:
        return Sample.model_validate(table)
    except ValidationError:
        wanted = 'file = "...", column = "..." and unit = "..."'
        raise SampleError(f"a sample needs {wanted}, and nothing else") from None


def sample_cells(sample: Sample, folder: Path) -> list[tuple[int, str]]:
    """Lines and texts of a sample's values, those left empty aside.

    ``folder`` is the scenario's. Raises `SampleError` that names file, line and column.
    """
    path, name = _path(sample.file, folder), sample.file
    try:
        lines = csv_lines(content(path, _LARGEST_FILE), LARGEST_SAMPLE)
    except UnreadableFile as why:
        raise SampleError(f"cannot read {name}{why}") from None
    header = lines[0][1] if lines else []
    column = " ".join(sample.column.split())
    if column not in header:
        raise SampleError(f"{name} has no column {quoted(column)} (it has: {some_of(header)})")
    if header.count(column) > 1:
        raise SampleError(f"{name}: the column {quoted(column)} stands twice; rename one")
    place = header.index(column)
    cells = []
    for line, row in lines[1:]:
        if len(row) > len(header):
            # A decimal comma, most likely; reading on would take 1,5 for 1.
            raise SampleError(
                f"{name} line {line} has more cells than the header; write 1.5 with a point"
            )
        if place < len(row) and row[place]:
            cells.append((line, row[place]))
    if not cells:
        raise SampleError(f"{name} has no values in column {quoted(column)}")
    return cells


def with_samples_written_out(tables: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """A scenario's tables with the values of samples in place of their files.

    Such a scenario can be kept in any folder. Raises `SampleError` as `sample_cells` does.
    """
    written: dict[str, Any] = {}
    for key, value in tables.items():
        if not isinstance(value, dict):
            written[key] = value
        elif value.get("kind") == "sample":
            sample = sample_of(value)
            cells = sample_cells(sample, folder)
            values = [f"{cell} {sample.unit}" for _, cell in cells]
            written[key] = {"kind": "list", "values": values}
        else:
            written[key] = with_samples_written_out(value, folder)
    return written


def sample_files(tables: Mapping[str, Any]) -> list[str]:
    """The files of all samples as a scenario's tables name them, each once.

    >>> sample_files({"speed": {"kind": "sample", "file": "own/speeds.csv"}})
    ['own/speeds.csv']
    """
    return list(dict.fromkeys(_files(tables)))


def names_without_folders(files: Iterable[str]) -> dict[str, str]:
    """A name without a folder for each file, no two of them alike.

    >>> names_without_folders(["own/speeds.csv", "speeds.csv"])
    {'own/speeds.csv': 'speeds.csv', 'speeds.csv': '2-speeds.csv'}
    """
    names: dict[str, str] = {}
    for file in files:
        base = name = PurePosixPath(file).name
        number = 1
        # Some file systems take capitals and small letters for the same.
        while name.lower() in {taken.lower() for taken in names.values()}:
            number += 1
            name = f"{number}-{base}"
        names[file] = name
    return names


def with_sample_files(tables: Mapping[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    """A scenario's tables with other names for the files of their samples."""
    renamed: dict[str, Any] = {
        key: with_sample_files(value, names) if isinstance(value, dict) else value
        for key, value in tables.items()
    }
    if renamed.get("kind") == "sample" and isinstance(renamed.get("file"), str):
        renamed["file"] = names.get(renamed["file"], renamed["file"])
    return renamed


def _files(tables: Mapping[str, Any]) -> Iterator[str]:
    if tables.get("kind") == "sample" and isinstance(tables.get("file"), str):
        yield tables["file"]
    for value in tables.values():
        if isinstance(value, dict):
            yield from _files(value)


def _path(name: str, folder: Path) -> Path:
    """Where a sample lies, links followed. Raises `SampleError` outside the folder."""
    plain = PurePosixPath(name)
    outside = plain.is_absolute() or ".." in plain.parts or "\\" in name or ":" in name
    if outside or not is_plain(name):
        raise SampleError(f"file = {quoted(name)}: {_WHERE}")
    try:
        path = (folder / plain).resolve()
        inside = path.is_relative_to(folder.resolve())
    except (OSError, RuntimeError):
        raise SampleError(f"cannot read {quoted(name)}: links lead nowhere") from None
    if not inside:
        raise SampleError(f"file = {quoted(name)}: is a link to elsewhere; {_WHERE}")
    return path
