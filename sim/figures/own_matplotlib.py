"""Matplotlib without what the user has set up for pictures of their own.

A backend in ``MPLBACKEND`` (Jupyter sets one for its children) or a ``matplotlibrc`` in the current
folder can keep matplotlib from being imported at all. Commands draw on canvases of their own and
need neither. In a program or notebook that imports figures both are the user's, and hold.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
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
        before = os.getcwd()
    except FileNotFoundError:
        yield
        return
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)
