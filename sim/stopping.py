"""Being told to stop: from the keyboard, by a terminal that closes, or by another process."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Final

AFTER_A_SIGNAL: Final = 128
# Those that this system has; they end a process unless it does something about them.
SIGNALS: Final = tuple(
    getattr(signal, name)
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
    if hasattr(signal, name)
)


class Stopped(KeyboardInterrupt):
    """Told to stop otherwise than from the keyboard; clears up on its way out as that does."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.exit_code = AFTER_A_SIGNAL + number


def exit_code(stop: KeyboardInterrupt) -> int:
    """What shells expect of a command that was stopped: 128 and the signal's number.

    >>> exit_code(KeyboardInterrupt()), exit_code(Stopped(signal.SIGTERM))
    (130, 143)
    """
    return stop.exit_code if isinstance(stop, Stopped) else AFTER_A_SIGNAL + signal.SIGINT


@contextmanager
def told_by_signals() -> Iterator[None]:
    """Within, every one of `SIGNALS` raises `KeyboardInterrupt` or `Stopped`, so that what was
    begun is cleared up. One that whoever started the program has set aside stays so (nohup).
    """

    def stop(number: int, _: FrameType | None) -> None:
        raise Stopped(number)

    with _handled(stop, [one for one in SIGNALS if signal.getsignal(one) == signal.SIG_DFL]):
        yield


@contextmanager
def undisturbed() -> Iterator[None]:
    """Within, being told to stop waits for the end: for milliseconds that must not be torn."""
    waiting: list[int] = []

    def remember(number: int, _: FrameType | None) -> None:
        waiting.append(number)

    # What was not set from here could not be put back.
    ours = [one for one in SIGNALS if signal.getsignal(one) not in (signal.SIG_IGN, None)]
    try:
        with _handled(remember, ours):
            yield
    finally:
        if waiting:
            signal.raise_signal(waiting[0])


def deaf_to_signals() -> None:
    """From now on none of `SIGNALS` stops this process."""
    for one in SIGNALS:
        signal.signal(one, signal.SIG_IGN)


@contextmanager
def _handled(handler: object, signals: list[signal.Signals]) -> Iterator[None]:
    """Within, the ``handler`` gets the signals; elsewhere than in the main thread nothing changes,
    for no other is ever told.
    """
    before: dict[signal.Signals, object] = {}
    try:
        if threading.current_thread() is threading.main_thread():
            for one in signals:
                before[one] = signal.signal(one, handler)  # type: ignore[arg-type]
        yield
    finally:
        for one, earlier in before.items():
            signal.signal(one, earlier)  # type: ignore[arg-type]
