"""One page for players, from the command line."""

from __future__ import annotations

from typing import Any

import click

from sim.commands.shared import Common, study_of, study_options


@click.command()
@study_options(shots=8192)
@click.option(
    "--policy",
    metavar="NAME",
    help="What the pair is taught.  [default: the policy with most in control; where others cannot "
    "be told from it, run.baseline or who lets fewer past]",
)
def handout(policy: str | None, **common: Any) -> None:
    """Write one page for the pair: where to stand, who takes the middle, a drill to count.

    A court for each return direction with three sentences, the pair's spacing in paces to walk off,
    one drill with numbers to count, and cautions; as a PDF file to print and as a page for any
    screen. With --no-figures there is no PDF file.

    \b
    reachshare handout
    reachshare handout my-pair.toml --policy follow
    reachshare handout seventies-lobs --units metric
    """
    with study_of("handout", Common(**common), {"policy": policy}) as study:
        from sim.analyses.handout import handout as run
        from sim.analyses.handout import refuse_unknown_policy
        from sim.texts.handout import page_words
        from sim.texts.handout_answer import terminal_text

        refuse_unknown_policy(study.scenario, policy)
        result = run(study.with_places(study.scenario), policy, study.workers, study.line.show)
        words = page_words(result, study.file.to_type, study.units)

        from sim.figures.handout import handout_page, pdf
        from sim.pages.handout import handout_html

        files = {}
        if study.figures:
            page = handout_page(result, words, study.units)
            files["handout.pdf"] = pdf(page, words.title)
        study.finish(
            {"handout.csv": result.rows},
            lambda: (),
            terminal_text(result, words, study.units),
            {"handout.html": handout_html(result, words)},
            files,
        )
