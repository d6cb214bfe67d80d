"""Matplotlib without what the user has set up for pictures of their own.

A backend in ``MPLBACKEND`` (Jupyter sets one for its children) or a ``matplotlibrc`` in the current
folder can keep matplotlib from being imported at all. Commands draw on canvases of their own and
need neither. In a program or notebook that imports figures both are the user's, and hold.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import click


def load() -> None:
    """Import matplotlib; where a command runs and nobody has yet, without the user's settings."""
    if "matplotlib" in sys.modules or click.get_current_context(silent=True) is None:
        return
    backend = os.environ.pop("MPLBACKEND", None)
    try:
        # Before any other place matplotlib looks into the current folder: an empty file is in ours.
        with _current(Path(__file__).parent):
            import matplotlib  # noqa: F401
    finally:
        if backend is not None:
            os.environ["MPLBACKEND"] = backend


@contextlib.contextmanager
def _current(folder: Path) -> Iterator[None]:
    """Within, the folder is the current one. One that was removed can hold no file anyway."""
    try:
        os.getcwd()
    except FileNotFoundError:
        yield
        return
    with _way_back() as go_back:
        os.chdir(folder)
        try:
            yield
        finally:
            go_back()


@contextlib.contextmanager
def _way_back() -> Iterator[Callable[[], None]]:
    """How to return to the current folder, even to one whose path may not be followed."""
    if os.chdir not in os.supports_fd:
        before = os.getcwd()
        yield lambda: os.chdir(before)
        return
    here = os.open(".", os.O_RDONLY)
    try:
        yield lambda: os.chdir(here)
    finally:
        os.close(here)
