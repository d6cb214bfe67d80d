"""Runs made again from their manifests, which are foreign input: read, checked, laid out."""

from __future__ import annotations

import hashlib
import json
from base64 import b64decode
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints
from pydantic import ValidationError as Invalid

from sim import __version__
from sim.errors import Refused
from sim.input_files import UnreadableFile, content
from sim.manifest import SAMPLE
from sim.outputs import MANIFEST
from sim.plain_text import is_plain
from sim.samples import sample_files
from sim.scenario_errors import ScenarioError
from sim.scenario_files import ScenarioFile, build

_LARGEST_FILE: Final = 100_000_000
# Ours are five deep.
_DEEPEST: Final = 16


class ManifestError(Refused):
    """Why a run cannot be made again from its manifest, and what to do."""


def _without_folder(name: str) -> str:
    if Path(name).name != name or name in ("", "..") or not is_plain(name):
        raise ValueError("must be the name of a file without a folder")
    return name


def _plain_text(text: str) -> str:
    if not text.isprintable():
        raise ValueError("must be plain text, without control characters")
    return text


# Shown in the terminal, where control characters could do harm.
Shown = Annotated[str, Field(max_length=80), AfterValidator(_plain_text)]
PlainName = Annotated[str, Field(max_length=255), AfterValidator(_without_folder)]
Digest = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]


class Source(BaseModel):
    """What the scenario was read from."""

    name: PlainName
    bundled: Annotated[bool, Field(strict=True)]


class KeptInput(BaseModel):
    """A file that the run read beside its scenario; contents only where they are small."""

    use: str
    name: PlainName
    sha256: Digest
    text: str | None = None
    base64: str | None = None

    def contents(self) -> bytes | None:
        """The file's bytes, if the manifest has them. Raises `ValueError` for damaged ones."""
        if self.text is not None:
            return self.text.encode("utf-8")
        return None if self.base64 is None else b64decode(self.base64, validate=True)


class Manifest(BaseModel):
    """A manifest as read, with all that it takes to make its run again; see `sim.manifest`."""

    model_config = ConfigDict(extra="allow")

    program: Literal["reachshare"]
    version: Shown
    made_with: dict[str, Shown]
    scenario_source: Source
    scenario_digest: Digest
    options: dict[str, Any]
    scenario_tables: dict[str, Any]
    inputs: list[KeptInput]
    files: Annotated[dict[PlainName, Digest], Field(min_length=1)]

    @property
    def command(self) -> str:
        """The command that the run was made by, such as ``fit shots``."""
        return str(self.options.get("command", ""))


def manifest_path(path: Path) -> Path:
    """Where the manifest stands: in a folder of results under its own name."""
    return path / MANIFEST if path.is_dir() else path


def read_manifest(path: Path) -> Manifest:
    """Read a manifest. Raises `ManifestError` for whatever is none, or is damaged."""
    document = _document(path)
    if isinstance(document, dict) and isinstance(document.get("files"), list):
        raise ManifestError(
            f"{path}: is of a version of reachshare that kept no fingerprints: run it anew"
        )
    try:
        return Manifest.model_validate(document)
    except Invalid as error:
        problem = error.errors()[0]
        where = ".".join(str(part) for part in problem["loc"]) or "the whole"
        what = problem["msg"].removeprefix("Value error, ")
        raise ManifestError(
            f"{path}: is not a manifest of reachshare: {where[:80]!r}: "
            f"{what[0].lower() + what[1:]}; give the manifest.json of a folder of results"
        ) from None


def lay_out(manifest: Manifest, path: Path, folder: Path) -> ScenarioFile:
    """The scenario of the manifest at ``path``, with its samples put into ``folder``.

    Raises `ManifestError` where tables, samples and digest do not go together.
    """
    source, tables = manifest.scenario_source, manifest.scenario_tables
    there = {each.name for each in manifest.inputs if each.use == SAMPLE}
    if unknown := [name for name in sample_files(tables) if name not in there]:
        raise ManifestError(
            f"{path}: the sample {unknown[0]!r} is not among the inputs; a manifest holds every "
            "file that its run has read"
        )
    shown = f"{path}: scenario_tables"
    file = ScenarioFile(Path(source.name).stem, "", tables, folder, shown, source.bundled)
    try:
        scenario = build(file)
    except ScenarioError as error:
        raise ManifestError(str(error)) from None
    if scenario.digest() != manifest.scenario_digest and manifest.version == __version__:
        raise ManifestError(
            f"{path}: the settings in scenario_tables are not those of scenario_digest: the "
            "manifest was changed by hand, or is damaged; ask for the original"
        )
    short = source.name if source.bundled else Path(source.name).stem
    return ScenarioFile(short, "", tables, folder, source.name, source.bundled)


def put_inputs(
    manifest: Manifest, path: Path, given: Sequence[Path], folder: Path
) -> Iterator[tuple[str, Path]]:
    """Write all input files below ``folder``; each with its use, samples in ``folder`` itself.

    What the manifest is too small to hold is looked for among the files ``given``. Raises
    `ManifestError` where one is missing or was changed.
    """
    found = dict(_given(given))
    for number, kept in enumerate(manifest.inputs, 1):
        try:
            data = kept.contents()
        except ValueError as error:
            raise ManifestError(f"{path}: inputs: {kept.name}: is damaged: {error}") from None
        if data is None and kept.sha256 not in found:
            raise ManifestError(
                f"{path}: inputs: {kept.name} is too large to be in the manifest; give it with "
                f"--input FILE (SHA-256 {kept.sha256})"
            )
        if data is None:
            data = found[kept.sha256]
        if _sha256(data) != kept.sha256:
            raise ManifestError(
                f"{path}: inputs: {kept.name}: the contents are not those of its SHA-256: the "
                "manifest was changed by hand, or is damaged; ask for the original"
            )
        # Two files for one use may have the same name.
        beside = folder if kept.use == SAMPLE else folder / f"input-{number}"
        beside.mkdir(parents=True, exist_ok=True)
        (beside / kept.name).write_bytes(data)
        yield kept.use, beside / kept.name


def _document(path: Path) -> Any:
    """The JSON in a file, no deeper and no larger than any manifest, with names fit to be shown."""
    try:
        document = json.loads(content(path, _LARGEST_FILE).decode("utf-8-sig"))
        # Half a letter, which JSON can spell, is no text.
        json.dumps(document, ensure_ascii=False, allow_nan=False).encode("utf-8")
    except UnreadableFile as why:
        raise ManifestError(f"{path}{why}") from None
    except RecursionError:
        raise ManifestError(f"{path}: nested too deeply for a manifest") from None
    except ValueError as error:
        raise ManifestError(f"{path}: is not a manifest: not valid JSON: {error}") from None
    level, depth = [[document]], 0
    while level := [inner for value in level for inner in _within(value)]:
        depth += 1
        if depth > _DEEPEST:
            raise ManifestError(f"{path}: nested too deeply for a manifest")
        if not all(name.isprintable() for inner in level for name in _names(inner)):
            raise ManifestError(f"{path}: is not a manifest: a name in it is not plain text")
    return document


def _within(value: Any) -> Iterable[Any]:
    return value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()


def _names(value: Any) -> Iterable[str]:
    return value if isinstance(value, dict) else ()


def _given(paths: Sequence[Path]) -> Iterator[tuple[str, bytes]]:
    for path in paths:
        try:
            data = content(path, _LARGEST_FILE)
        except UnreadableFile as why:
            raise ManifestError(f"--input {path}{why}") from None
        yield _sha256(data), data


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
