"""Talking to a terminal: data on stdout, progress and errors on stderr, exit codes."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Final

import click

from sim.errors import Refused
from sim.stopping import exit_code, told_by_signals

if TYPE_CHECKING:
    from sim.comparison import Progress

PRECISION_NOT_REACHED: Final = 3
# Something is wrong with the machine rather than with what was asked for.
_OUT_OF_ORDER: Final = 1
# Back to the beginning of the line, and away with what stands there.
_OVER: Final = "\r\x1b[K"
_PROGRESS_WIDTH: Final = 30

units_option = click.option(
    "--units",
    type=click.Choice(["us", "metric"]),
    default="us",
    show_default=True,
    help="Feet and miles per hour, or metres and kilometres per hour.",
)


class HelpfulGroup(click.Group):
    """A group that suggests the nearest command for a mistyped one."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            import difflib

            near = difflib.get_close_matches(args[0], self.list_commands(ctx), n=1)
            if near and "mean" not in error.message:
                raise click.UsageError(f"{error.message} Did you mean {near[0]!r}?", ctx) from None
            raise


class Program(HelpfulGroup):
    """All commands; however they end, it is told in plain words and by an exit code."""

    def main(self, *args: Any, **more: Any) -> Any:
        """Run the command line, as `click.Command.main` does."""
        _open_streams()
        with told_by_signals(), errors_to_exit_codes():
            return super().main(*args, **more)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; click itself would call it aborted when it is stopped."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt as stop:
            tell("Interrupted.")
            sys.exit(exit_code(stop))


class UnheardError(Refused):
    """Standard output takes nothing more."""

    exit_code = _OUT_OF_ORDER


@contextmanager
def errors_to_exit_codes() -> Iterator[None]:
    """Turn errors of the library and of the machine into messages on stderr and an exit code."""
    try:
        yield
    except Refused as error:
        _end(str(error), error.exit_code)
    except MemoryError:
        _end(
            "there is not enough memory; close other programs, or take fewer --workers or --shots",
            _OUT_OF_ORDER,
        )
    except BrokenPipeError:
        # Whoever read has had enough; click ends without a word.
        raise
    except OSError as error:
        _end(str(error), _OUT_OF_ORDER)


def _end(message: str, code: int) -> None:
    for line in message.split("\n"):
        tell(f"Error: {line}")
    sys.exit(code)


def echo(text: str, *, nl: bool = True) -> None:
    """Print without control characters.

    A hyphen stands for the minus sign where the terminal or file cannot hold one.

    Raises `UnheardError` where nothing can be printed, and `BrokenPipeError`.
    """
    from sim.wording import MINUS

    try:
        MINUS.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        text = text.replace(MINUS, "-")
    try:
        click.echo(plain(text), nl=nl)
    except BrokenPipeError:
        raise
    except OSError as error:
        _give_up(sys.stdout)
        raise UnheardError(f"standard output cannot be written to: {error.strerror}") from None


def tell(text: str, *, over: bool = False) -> None:
    """A message on stderr, without control characters; ``over`` the line that stands there, to stay
    until the next.

    Where stderr takes none the work goes on: results are what counts.
    """
    try:
        click.echo(_OVER * over + plain(text), err=True, nl=not over)
    except OSError:
        _give_up(sys.stderr)


def plain(text: str) -> str:
    """Lines of text without anything that a terminal obeys: names may come from anybody."""
    from sim.plain_text import spelt_out

    return spelt_out(text, kept="\n\t")


def show_results(line: ProgressLine, folder: Path, text: str) -> None:
    """Say where the results are, and print the text about them."""
    with ending_when_stopped(line, f"the results are in {folder}."):
        line.say(f"Results in {folder}")
        echo(text)


@contextmanager
def ending_when_stopped(line: ProgressLine, state: str) -> Iterator[None]:
    """Within, being told to stop ends the program and says what has become of the results."""
    try:
        yield
    except KeyboardInterrupt as stop:
        line.say(f"Interrupted: {state}")
        sys.exit(exit_code(stop))


def _open_streams() -> None:
    """Make standard output and error ready for anything that may be printed.

    Where they are closed, what is printed goes nowhere; a file opened later must not get their
    numbers, or it would hold what was meant for them. A terminal that cannot show a letter gets a
    stand-in.
    """
    while (number := os.open(os.devnull, os.O_RDWR)) <= 2:
        pass
    os.close(number)
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        stream = getattr(sys, name)
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


def _give_up(stream: IO[str]) -> None:
    """Send what still waits to be written nowhere; it would be tried again at the very end."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


class ProgressLine:
    """A line on stderr that says how far a run has come.

    Where there is no terminal, a line for every look at the precision, and a few for what is asked.
    """

    def __init__(self, title: str, asked: float | None = None, *, quiet: bool) -> None:
        self.title, self.asked, self.quiet = title, asked, quiet
        self.live = not quiet and sys.stderr.isatty()
        self._told: float | None = None

    def show(self, progress: Progress, counted: str = "blocks", lines: int = 0) -> None:
        """Show how far the run is in what is ``counted``, in so many ``lines`` if not live."""
        known = ""
        if self.asked is not None and progress.reached is not None:
            from sim.wording import half_width

            known = f"  known to ±{half_width(progress.reached)}, asked ±{self.asked:g} points"
        text = f"{progress.done} of {progress.planned} {counted}{known}"
        if self.live:
            filled = _PROGRESS_WIDTH * progress.done // progress.planned
            bar = "#" * filled + "." * (_PROGRESS_WIDTH - filled)
            tell(f"{self.title}  {bar}  {text}", over=True)
        elif not self.quiet and (progress.reached != self._told or _is_due(progress, lines)):
            self._told = progress.reached
            tell(f"{self.title}: {text}")

    def note(self, text: str) -> None:
        """Show what is being done."""
        if self.live:
            tell(f"{self.title}  {text}", over=True)

    def say(self, text: str) -> None:
        """A message that stays."""
        if self.live:
            tell("", over=True)
        if not self.quiet:
            tell(text)


def _is_due(progress: Progress, lines: int) -> bool:
    """Whether the latest step is one of so many, evenly spread, of which the last ends the work."""
    return (
        lines * progress.done // progress.planned > lines * (progress.done - 1) // progress.planned
    )
