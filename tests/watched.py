"""Commands run one after the other under the eyes of Python's audit hook.

``python -m tests.watched LOG`` reads command lines as JSON from its standard input. Whatever it, or
a process forked from it, wants to write, start or connect to stands in LOG, a line of JSON each.
What goes over a network is forbidden as well as told.
"""

from __future__ import annotations

import io
import json
import os
import sys
from contextlib import redirect_stdout
from pathlib import Path
from typing import Any, Final

# https://docs.python.org/3/library/audit_events.html
# The last argument of these is the folder that a relative path starts from, -1 for the current one.
WRITES: Final = ("os.mkdir", "os.remove", "os.rename", "os.rmdir", "os.link", "os.symlink")
WRITES += ("os.chmod", "os.utime", "os.chown")
STARTS: Final = ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.spawn")
NETWORK: Final = ("connect", "bind", "sendto", "sendmsg", "getaddrinfo", "gethostbyname")


def watch(log: Path, command: list[str]) -> None:
    """Tell everything from now on, with the command that is running."""
    told = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def tell(kind: str, event: str, what: Any) -> None:
        line = {"command": command[0], "kind": kind, "event": event, "what": what}
        os.write(told, (json.dumps(line, default=str) + "\n").encode())

    def hook(event: str, arguments: tuple[Any, ...]) -> None:
        if event == "open" and _to_write(arguments):
            tell("write", event, [_path(arguments[0])])
        elif event in WRITES:
            tell("write", event, [_path(a, arguments[-1]) for a in arguments if _is_path(a)])
        elif event in STARTS:
            tell("start", event, arguments)
        elif event.startswith("socket.") and event.removeprefix("socket.") in NETWORK:
            tell("network", event, arguments[1:])
            raise PermissionError("nothing may go over the network")

    sys.addaudithook(hook)


def _to_write(arguments: tuple[Any, ...]) -> bool:
    path, _, flags = arguments
    if isinstance(path, int):
        # A file that is open already, or a pipe; opening it was told.
        return False
    return bool(flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND))


def _is_path(argument: Any) -> bool:
    return isinstance(argument, str | bytes | Path)


def _path(path: str | bytes | Path, folder: int = -1) -> str:
    start = os.readlink(f"/proc/self/fd/{folder}") if folder >= 0 else os.getcwd()
    return os.path.normpath(os.path.join(start, os.fsdecode(path)))


def main(log: Path) -> None:
    """Run all commands; fails with the first that does."""
    running = [""]
    watch(log, running)
    from sim.cli import main as reachshare

    for words in json.load(sys.stdin):
        running[0] = words[0]
        with redirect_stdout(io.StringIO()):
            reachshare(words, "reachshare", standalone_mode=False)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
