"""Making a run again from its manifest, from the command line."""

from __future__ import annotations

import io
import shutil
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, redirect_stdout
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Final

import click

from sim.commands.from_manifest import command_of, parameters
from sim.commands.shared import force_option, quiet_option, workers_option
from sim.errors import Refused
from sim.stopping import AFTER_A_SIGNAL, Stopped
from sim.terminal import (
    PRECISION_NOT_REACHED,
    ProgressLine,
    echo,
    ending_when_stopped,
    errors_to_exit_codes,
)

if TYPE_CHECKING:
    from sim.rebuilding import Manifest
    from sim.rebuilt_files import Rebuilt

DIFFERS: Final = 4
_MADE: Final = "rebuilt"


@click.command()
@click.argument("manifest", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Folder for what comes out.  [default: looked at and thrown away]",
)
@click.option(
    "--input",
    "inputs",
    type=click.Path(path_type=Path),
    metavar="FILE",
    multiple=True,
    help="A file that the run has read and that is too large for its manifest. May be repeated.",
)
@force_option
@workers_option("one for each core")
@quiet_option
def rebuild(
    manifest: Path,
    out: Path | None,
    inputs: tuple[Path, ...],
    force: bool,
    workers: int | None,
    quiet: bool,
) -> None:
    """Make a run again from its MANIFEST and compare every file.

    MANIFEST is the manifest.json of any folder of results, or the folder; it is enough by itself.
    Says whether all files come out the same to the byte, or which differ and by how much. The exit
    code is 0 where all are the same, 4 where something differs, 2 where the manifest is none or was
    changed by hand.

    \b
    reachshare rebuild reachshare-out/club-sixties
    reachshare rebuild manifest.json --out rebuilt
    """
    line = ProgressLine("", quiet=quiet)
    state = f"nothing was written to {out}." if out else "nothing was written."
    with errors_to_exit_codes(), ending_when_stopped(line, state):
        from sim.rebuilding import manifest_path, read_manifest
        from sim.texts.rebuild import rebuilt_text

        path = manifest_path(manifest)
        told = read_manifest(path)
        with _kept_for(out, path, inputs, told, force=force), _scratch() as scratch:
            found = _again(told, path, inputs, scratch, workers, line)
            if out:
                _put(scratch / _MADE, out)
        if out:
            line.say(f"Results in {out}")
        echo(rebuilt_text(found))
    if not found.all_the_same:
        sys.exit(DIFFERS)


def _again(
    told: Manifest,
    path: Path,
    inputs: Sequence[Path],
    scratch: Path,
    workers: int | None,
    line: ProgressLine,
) -> Rebuilt:
    """Make the run of the manifest at ``path`` again, in a folder of ``scratch``, and compare."""
    from sim.rebuilding import lay_out, put_inputs
    from sim.rebuilt_files import held_against

    read = scratch / "read"
    files = [*put_inputs(told, path, inputs, read)]
    scenario = lay_out(told, path, read)
    command = command_of(told, path)
    values = parameters(command, told, path, scenario, files)
    line.say(f"Making it again: reachshare {told.command}, {scenario.to_type} ...")
    _run(command, values | {"out": scratch / _MADE, "workers": workers, "quiet": True}, path)
    return held_against(told, path.parent, scratch / _MADE)


@contextmanager
def _scratch() -> Iterator[Path]:
    with TemporaryDirectory(prefix="reachshare-") as folder:
        yield Path(folder)


@contextmanager
def _kept_for(
    out: Path | None, path: Path, inputs: Sequence[Path], told: Manifest, *, force: bool
) -> Iterator[None]:
    """Keep the folder for what comes out, if it is to go anywhere."""
    from sim.outputs import reserved

    if out is None:
        yield
        return
    if out.resolve() == path.parent.resolve():
        raise Refused(f"--out {out}: is the folder of the run itself; choose another one")
    reads = [path, *inputs]
    with reserved(out, told.model_dump(exclude_unset=True), force=force, reads=reads):
        yield


def _put(made: Path, out: Path) -> None:
    from sim.outputs import whole_folder

    with whole_folder(out) as scratch:
        for file in made.iterdir():
            shutil.copyfile(file, scratch / file.name)


def _run(command: click.Command, values: Mapping[str, Any], path: Path) -> None:
    """Run a command as if it had been typed, without what it prints."""
    from sim.rebuilding import ManifestError

    # Not every command shares its work.
    names = {parameter.name for parameter in command.params}
    known = {name: value for name, value in values.items() if name in names}
    try:
        with redirect_stdout(io.StringIO()):
            click.get_current_context().invoke(command, **known)
    except click.UsageError as error:
        raise ManifestError(f"{path}: options: {error.message}") from None
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else 0
        if code > AFTER_A_SIGNAL:
            raise Stopped(code - AFTER_A_SIGNAL) from None
        if code == Refused.exit_code:
            raise ManifestError(f"{path}: asks for a run that is refused") from None
        # A run may stop short of the precision asked for, and be the same run.
        if code not in (0, PRECISION_NOT_REACHED):
            raise
