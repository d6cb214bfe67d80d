"""The command line: ``reachshare`` and its commands."""

from __future__ import annotations

import os

import click

from sim import __version__
from sim.commands.approach import approach
from sim.commands.compare import compare
from sim.commands.counter import counter
from sim.commands.draw import draw
from sim.commands.fit import fit
from sim.commands.handout import handout
from sim.commands.positions import positions
from sim.commands.rebuild import rebuild
from sim.commands.report import report
from sim.commands.scenarios import scenario
from sim.commands.sensitivity import sensitivity
from sim.commands.shot import shot
from sim.commands.sweep import sweep
from sim.terminal import Program


@click.group(cls=Program, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="reachshare")
def main() -> None:
    """What share of the opponents' third shots does each way of moving to the line reach?

    Start with: reachshare compare
    """
    # Work is shared among processes; threads of the matrix library would only get in their way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


for _command in (
    approach,
    compare,
    counter,
    draw,
    fit,
    handout,
    positions,
    rebuild,
    report,
    scenario,
    sensitivity,
    shot,
    sweep,
):
    main.add_command(_command)
