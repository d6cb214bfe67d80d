"""Commands in processes of their own, in which something real goes wrong."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, NamedTuple, NoReturn

# Loaded once here, and not anew in every copy of this process.
import sim.analyses.fit_reach
import sim.figures
import sim.texts.fit  # noqa: F401
from sim.cli import main

ONE_RETURN = ("--set", 'return_of_serve.directions=["cross"]')
TWO_POLICIES = '[{name = "halves", rule = "halves"}, {name = "follow", rule = "follow"}]'
CHEAP = (*ONE_RETURN, "--set", f"policies={TWO_POLICIES}", "--workers", "1")
COMPARE = ("compare", "--no-figures", "--shots", "64", *CHEAP)
COMMAND = (sys.executable, "-c", "from sim.cli import main; main()")
# Against waiting for ever; nothing here takes that long.
GUARD = 120.0


class Ended(NamedTuple):
    """How a process ended: its exit code, or less than zero for the signal that killed it."""

    code: int
    out: str
    err: str


def forked(action: Callable[[], object]) -> Ended:
    """Do something in a copy of this process, with all modules that it has loaded."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        child = os.fork()
        if child == 0:
            _be_the_child(action, out, err)
        _, status = os.waitpid(child, 0)
        return Ended(os.waitstatus_to_exitcode(status), _text(out), _text(err))


def forked_command(words: Sequence[str], prepare: Callable[[], object] = bool) -> Ended:
    """Run a command in a copy of this process, in which something is prepared for it."""

    def run() -> None:
        prepare()
        main([*words])

    return forked(run)


def started(
    words: Sequence[str],
    before: Sequence[str] = (),
    env: Mapping[str, str] | None = None,
    encoding: str = "utf-8",
    **streams: IO[str],
) -> Ended:
    """Run a command as a shell would, in a fresh process."""
    done = subprocess.run(
        [*before, *COMMAND, *words],
        **({"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | streams),
        encoding=encoding,
        timeout=GUARD,
        check=False,
        env=environment() | dict(env or {}),
    )
    return Ended(done.returncode, done.stdout or "", done.stderr or "")


@contextmanager
def begun(words: Sequence[str]) -> Iterator[subprocess.Popen[str]]:
    """A command under way in a fresh process; whatever becomes of it, it is gone at the end."""
    with subprocess.Popen(
        [*COMMAND, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        env=environment(),
    ) as process:
        try:
            yield process
        finally:
            process.kill()


def environment() -> dict[str, str]:
    """Of this process, with a path to the modules it uses."""
    return os.environ | {"PYTHONPATH": os.pathsep.join(path for path in sys.path if path)}


def limit(name: str, value: int) -> None:
    """Lower one of this process's limits, such as ``FSIZE``."""
    which = getattr(resource, f"RLIMIT_{name}")
    resource.setrlimit(which, (value, resource.getrlimit(which)[1]))


def at_change(number: int, folder: Path, act: Callable[[], object]) -> None:
    """From now on: do something just before this process's change of that number in ``folder``.

    Changes are files opened for writing, renamed and removed, folders made and removed.
    """
    inside = os.fspath(folder)
    seen = 0

    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        nonlocal seen
        if _is_change(event, arguments) and os.fspath(arguments[0]).startswith(inside):
            seen += 1
            if seen == number:
                act()

    sys.addaudithook(watch)


def at_file(name: str, act: Callable[[], object]) -> None:
    """From now on: do something just before this process writes a file of that name."""

    def watch(event: str, arguments: tuple[Any, ...]) -> None:
        if event == "open" and _is_change(event, arguments) and Path(arguments[0]).name == name:
            act()

    sys.addaudithook(watch)


def kill_self(number: signal.Signals) -> Callable[[], None]:
    """What sends this process a signal."""
    return lambda: os.kill(os.getpid(), number)


def without_privileges() -> list[str] | None:
    """What a command is begun with so that permissions count for the superuser too.

    Nothing for anybody else, and None where privileges cannot be given up.
    """
    if os.geteuid() != 0:
        return []
    drop = ["setpriv", "--bounding-set=-all", "--inh-caps=-all"]
    if not shutil.which("setpriv"):
        return None
    tried = subprocess.run([*drop, "true"], capture_output=True, check=False)
    return drop if tried.returncode == 0 else None


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, with its bytes."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def _is_change(event: str, arguments: tuple[Any, ...]) -> bool:
    if event == "open":
        path, _, flags = arguments
        return isinstance(path, str | os.PathLike) and bool(flags & (os.O_WRONLY | os.O_RDWR))
    return event in ("os.rename", "os.mkdir", "os.remove", "os.rmdir")


def _be_the_child(action: Callable[[], object], out: IO[bytes], err: IO[bytes]) -> NoReturn:
    code: object = 1
    try:
        for number, file in ((1, out), (2, err)):
            os.dup2(file.fileno(), number)
        sys.stdout, sys.stderr = (os.fdopen(number, "w", encoding="utf-8") for number in (1, 2))
        action()
        code = 0
    except SystemExit as end:
        code = end.code or 0
    except BaseException as error:
        print(f"Traceback: {error!r}", file=sys.stderr)
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code if isinstance(code, int) else 1)


def _text(file: IO[bytes]) -> str:
    file.seek(0)
    return file.read().decode()
