"""The manifest: what a run was made of, enough to make it again to the byte (`sim.rebuilding`)."""

from __future__ import annotations

import hashlib
import platform
from base64 import b64encode
from collections.abc import Iterable, Mapping
from contextlib import suppress
from importlib.metadata import version
from pathlib import Path
from typing import Any, Final, NamedTuple

from sim import __version__
from sim.errors import Refused
from sim.input_files import UnreadableFile, content
from sim.plain_text import spelt_out
from sim.quantities import TAGS
from sim.samples import names_without_folders, sample_files, with_sample_files
from sim.scenario import Scenario
from sim.scenario_files import ScenarioFile
from sim.settings import settings

# What the last digits of numbers hang on, and what the bytes of pictures and pages do.
NUMBERS: Final = ("python", "numpy", "scipy")
PICTURES: Final = ("matplotlib", "contourpy", "pillow", "jinja2")
# Options on which no result depends, with the reason: no manifest has them.
WITHOUT_EFFECT: Final[Mapping[str, str]] = {
    "out": "says where the results go",
    "force": "says what may be replaced",
    "quiet": "says what is told on the way",
    "workers": "the results are the same, whatever the number",
    "cluster": "the results are the same, whoever does the work",
    "resume": "the results are the same, in one go or in two",
    "all": "every scenario is a run of its own",
    "template": "writes a chart to fill in instead of a run",
}
# Arguments and options of a run's scenario: its tables in the manifest hold what they say.
OF_THE_SCENARIO: Final = ("scenario", "set", "shots", "seed", "sampling", "baseline")
# The same for commands that build on a scenario, whose other options are their own.
OF_THE_LIKENESS: Final = ("like",)
# As much as any command reads, and as much of it as a manifest holds.
_LARGEST_FILE: Final = 20_000_000
_LARGEST_TEXT: Final = 5_000_000
# What an input file is for: an option (its name without hyphens), an argument, or this.
SAMPLE: Final = "sample"


class InputFile(NamedTuple):
    """A file that a run reads beside its scenario, and what for."""

    use: str
    path: Path


def manifest_of(
    scenario: Scenario,
    file: ScenarioFile,
    tables: Mapping[str, Any],
    options: Mapping[str, Any],
    inputs: Iterable[InputFile] = (),
) -> dict[str, Any]:
    """Versions, seed, digest, options, tables, input files and every default with its tag.

    The ``scenario`` is that of the ``tables``, which are the ``file``'s with all changes. There is
    no date and no folder in it, so that the same run writes the same bytes. Raises `Refused` where
    an input file cannot be read.
    """
    names = names_without_folders(sample_files(tables))
    samples = [_kept(InputFile(SAMPLE, file.folder / path), name) for path, name in names.items()]
    return {
        "program": "reachshare",
        "version": __version__,
        "made_with": made_with(),
        "scenario": scenario.name,
        "scenario_source": {"name": file.to_type, "bundled": file.bundled},
        "scenario_digest": scenario.digest(),
        "seed": scenario.run.seed,
        "baseline": scenario.baseline.name,
        "options": dict(options),
        "tags": TAGS,
        "scenario_tables": with_sample_files(tables, names) | {"name": scenario.name},
        "inputs": [*samples, *(_kept(each, each.path.name) for each in inputs)],
        "defaults": {
            entry.key: {"value": entry.value, "tag": entry.tag, "source": entry.source}
            for entry in settings(scenario)
            if not entry.given and entry.tag
        },
    }


def files_read(
    file: ScenarioFile, tables: Mapping[str, Any], inputs: Iterable[InputFile] = ()
) -> list[Path]:
    """All files of its user's that a run reads, as in `manifest_of`."""
    scenario = [] if file.bundled else [Path(file.shown_path)]
    samples = [file.folder / path for path in sample_files(tables)]
    return [*scenario, *samples, *(each.path for each in inputs)]


def made_with() -> dict[str, str]:
    """Versions of what the bytes of results hang on, and the kind of machine."""
    packages = (name for name in (*NUMBERS, *PICTURES) if name != "python")
    return {
        "machine": f"{platform.system()} {platform.machine()}",
        "python": platform.python_version(),
        **{name: version(name) for name in packages},
    }


def content_of(data: bytes) -> dict[str, str]:
    """A file's bytes as JSON can hold them: plain text as it is, all else in base 64.

    >>> content_of(b"shot,result"), content_of(b"\\xff\\xfe")
    ({'text': 'shot,result'}, {'base64': '//4='})
    """
    with suppress(UnicodeDecodeError):
        text = data.decode("utf-8")
        if spelt_out(text, kept="\r\n\t") == text:
            return {"text": text}
    return {"base64": b64encode(data).decode("ascii")}


def _kept(file: InputFile, name: str) -> dict[str, str]:
    """An input file by name and fingerprint, with its contents unless it is too large."""
    try:
        data = content(file.path, _LARGEST_FILE)
    except UnreadableFile as why:
        raise Refused(f"{file.path}{why}") from None
    known = {"use": file.use, "name": name, "sha256": hashlib.sha256(data).hexdigest()}
    return known | (content_of(data) if len(data) <= _LARGEST_TEXT else {})
