"""Talking to a terminal: data on stdout, progress and errors on stderr, exit codes."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

import click

from sim.errors import Refused

if TYPE_CHECKING:
    from sim.comparison import Progress

PRECISION_NOT_REACHED: Final = 3
INTERRUPTED: Final = 130
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


@contextmanager
def errors_to_exit_codes() -> Iterator[None]:
    """Turn the library's errors into messages on stderr and an exit code."""
    try:
        yield
    except Refused as error:
        for line in str(error).split("\n"):
            click.echo(f"Error: {plain(line)}", err=True)
        sys.exit(error.exit_code)


def echo(text: str) -> None:
    """Print without control characters.

    A hyphen stands for the minus sign where the terminal or file cannot hold one.
    """
    from sim.wording import MINUS

    try:
        MINUS.encode(sys.stdout.encoding or "utf-8")
    except UnicodeEncodeError:
        text = text.replace(MINUS, "-")
    click.echo(plain(text))


def plain(text: str) -> str:
    """Lines of text without anything that a terminal obeys: names may come from anybody."""
    from sim.plain_text import spelt_out

    return spelt_out(text, kept="\n\t")


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
            click.echo(f"\r\x1b[K{self.title}  {bar}  {text}", err=True, nl=False)
        elif not self.quiet and (progress.reached != self._told or _is_due(progress, lines)):
            self._told = progress.reached
            click.echo(f"{self.title}: {text}", err=True)

    def note(self, text: str) -> None:
        """Show what is being done."""
        if self.live:
            click.echo(f"\r\x1b[K{self.title}  {text}", err=True, nl=False)

    def say(self, text: str) -> None:
        """A message that stays."""
        if self.live:
            click.echo("\r\x1b[K", err=True, nl=False)
        if not self.quiet:
            click.echo(plain(text), err=True)


def _is_due(progress: Progress, lines: int) -> bool:
    """Whether the latest step is one of so many, evenly spread, of which the last ends the work."""
    return (
        lines * progress.done // progress.planned > lines * (progress.done - 1) // progress.planned
    )
