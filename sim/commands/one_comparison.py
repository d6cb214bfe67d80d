"""One comparison, from a scenario file to its results."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from sim.errors import Refused, refuse_unknown
from sim.terminal import ProgressLine, ending_when_stopped, show_results

if TYPE_CHECKING:
    from sim.analyses.uncertainty import Uncertainty
    from sim.cluster import Cluster
    from sim.comparison import Comparison
    from sim.precision import Precision
    from sim.processes import Processes
    from sim.run_store import RunStore
    from sim.scenario import Scenario
    from sim.scenario_files import ScenarioFile

# A run of more blocks than this keeps the finished ones until it is done.
_LONG_RUN: Final = 8


class How(NamedTuple):
    """How a comparison is run, as far as its results do not depend on it."""

    force: bool
    resume: bool
    workers: int | None
    cluster: str | None
    quiet: bool


@dataclass(frozen=True)
class Planned:
    """A comparison that has been read and checked: what is played, and where the results go.

    ``options`` are those that the results depend on, by name, as the ``manifest`` keeps them;
    ``reads`` are the files that the run has read.
    """

    scenario: Scenario
    doubts: _Doubts | None
    options: dict[str, Any]
    folder: Path
    manifest: dict[str, Any]
    reads: list[Path]

    def reserved(self, *, force: bool) -> AbstractContextManager[None]:
        """The folder, kept for this run; refused where the run may not write there."""
        from sim.outputs import reserved

        return reserved(self.folder, self.manifest, force=force, reads=self.reads)

    def store(self) -> RunStore | None:
        """The place for finished blocks, if the run is long enough to need one."""
        from sim.draws import BLOCK
        from sim.run_store import RunStore, store_folder

        if "precision" not in self.options and self.scenario.run.shots <= _LONG_RUN * BLOCK:
            return None
        return RunStore(store_folder(self.folder), self.scenario)

    def check(self, how: How) -> None:
        """Refuse what would be refused before anything is played."""
        with self.reserved(force=how.force):
            if store := self.store():
                store.check(resume=how.resume, force=how.force)


def planned(
    file: ScenarioFile,
    changes: dict[str, Any],
    folder: Path,
    options: dict[str, Any],
    draws: Sequence[Path],
) -> Planned:
    """Read and check all that one comparison needs."""
    from sim.manifest import InputFile, files_read, manifest_of
    from sim.scenario_files import build, overlay

    scenario = whole = build(file, changes)
    if "between" in options:
        scenario = only_between(whole, *options["between"])
    doubts = _doubts(file, changes, scenario, draws, options)
    tables = overlay(file.tables, changes)
    inputs = [InputFile("with_uncertainty", path) for path in draws]
    manifest = manifest_of(whole, file, tables, options, inputs)
    manifest["baseline"] = scenario.baseline.name
    reads = files_read(file, tables, inputs)
    return Planned(scenario, doubts, options, folder, manifest, reads)


def compare_one(run: Planned, how: How) -> bool:
    """Run one comparison up to its results; whether it is as precise as was asked."""
    from sim.texts.comparison import how_sure, terminal_text

    scenario, folder, options = run.scenario, run.folder, run.options
    precision = _precision(options)
    asked = None if precision is None else precision.points
    line = ProgressLine(scenario.name, asked, quiet=how.quiet)
    store = run.store()
    state = (
        "finished blocks are kept, add --resume to go on."
        if store
        else f"nothing was written to {folder}."
    )
    with ending_when_stopped(line, state), run.reserved(force=how.force):
        comparison = _play(scenario, precision, store, how, line)
        doubts = run.doubts
        uncertainty = _play_doubts(comparison.scenario, doubts, how, line) if doubts else None
        line.note("drawing and writing ...")
        _write(comparison, uncertainty, folder, run.manifest, options)
        if store:
            store.remove()
    for sentence in how_sure(comparison):
        line.say(sentence)
    show_results(line, folder, terminal_text(comparison, options["units"], uncertainty))
    return comparison.precise_enough


class _Doubts(NamedTuple):
    """The settings that stand for what is not known, and the files they come from, with keys."""

    settings: list[Scenario]
    sources: list[tuple[str, list[str]]]


def _doubts(
    file: ScenarioFile,
    changes: dict[str, Any],
    scenario: Scenario,
    paths: Sequence[Path],
    options: dict[str, Any],
) -> _Doubts | None:
    """Read the files of draws, if there are some."""
    if not paths:
        return None
    from sim.analyses.uncertainty import shots_of_a_setting
    from sim.joint_draws import read_draws, scenarios_of
    from sim.numeric_settings import changer
    from sim.scenario_files import merge

    draws = [read_draws(path, scenario) for path in paths]
    shots = shots_of_a_setting(scenario.run.shots)
    with_numbers = changer(file, merge(changes, {"run": {"shots": shots}}))
    settings = scenarios_of(draws, options["settings"], scenario.run.seed, with_numbers)
    if "between" in options:
        settings = [only_between(each, *options["between"]) for each in settings]
    return _Doubts(settings, [(Path(each.file).name, each.keys) for each in draws])


def _play_doubts(scenario: Scenario, doubts: _Doubts, how: How, line: ProgressLine) -> Uncertainty:
    from sim.analyses.uncertainty import uncertainty
    from sim.best_places import with_places_of
    from sim.processes import Processes

    # A policy does not know the numbers that are in doubt: its places stay those of the scenario.
    settings = [with_places_of(setting, scenario) for setting in doubts.settings]
    with Processes(how.workers) as workers:
        return uncertainty(scenario, settings, doubts.sources, workers, line.show)


def only_between(scenario: Scenario, policy: str, baseline: str) -> Scenario:
    """The scenario with two of its policies, the second as the baseline."""
    from sim.study import between

    names = [known.name for known in scenario.policies]
    refuse_unknown("--between", "a policy", (policy, baseline), names)
    if policy == baseline:
        raise Refused(f'--between: "{policy}" cannot be compared with itself')
    return between(scenario, policy, baseline)


def _precision(options: dict[str, Any]) -> Precision | None:
    from sim.precision import Precision

    if "precision" not in options:
        return None
    return Precision(
        options["precision"], options["precision_of"], options["measure"], options["max_shots"]
    )


def _open(store: RunStore | None, how: How, line: ProgressLine) -> None:
    from sim.wording import counted

    left = store.open(resume=how.resume, force=how.force) if store else 0
    if store and left:
        line.say(f"Going on with {counted(left, 'block')} kept in {store.folder.name}")
    elif store and how.resume:
        line.say("No interrupted run to go on with: played from the start.")
    elif how.resume:
        line.say("A short run keeps nothing to go on with: played from the start.")


def _play(
    scenario: Scenario,
    precision: Precision | None,
    store: RunStore | None,
    how: How,
    line: ProgressLine,
) -> Comparison:
    from sim.comparison import compare as run

    with _workers(how) as workers:
        _open(store, how, line)
        try:
            comparison = run(scenario, precision, workers, store, line.show)
        finally:
            if store:
                store.leave()
    if store and store.unreadable:
        line.say(f"Played again, for the kept file was damaged: {', '.join(store.unreadable)}")
    return comparison


def _workers(how: How) -> Processes | Cluster:
    if how.cluster is not None:
        from sim.cluster import Cluster

        return Cluster(how.cluster)
    from sim.processes import Processes

    return Processes(how.workers)


def _write(
    comparison: Comparison,
    uncertainty: Uncertainty | None,
    folder: Path,
    manifest: dict[str, Any],
    options: dict[str, Any],
) -> None:
    from sim.comparison import shot_rows
    from sim.outputs import whole_folder, write_large_table, write_manifest, write_table
    from sim.tables import SHOT_COLUMNS

    with whole_folder(folder) as scratch:
        write_table(scratch / "summary.csv", comparison.summary_rows)
        write_table(scratch / "differences.csv", comparison.difference_rows)
        write_table(scratch / "leaks.csv", comparison.leak_rows)
        write_table(scratch / "lateral.csv", comparison.lateral_rows)
        write_table(scratch / "run_in.csv", comparison.run_in_rows)
        if uncertainty:
            write_table(scratch / "uncertainty.csv", uncertainty.rows)
        if options["every_shot"]:
            rows = shot_rows(comparison.scenario, comparison.shots_played)
            write_large_table(scratch / "shots.csv", rows, SHOT_COLUMNS)
        if not options["no_figures"]:
            from sim.figures import all_figures, save
            from sim.texts.comparison import markdown_report

            stems = []
            for stem, figure in all_figures(comparison, options["units"], uncertainty):
                save(figure, scratch / stem)
                stems.append(stem)
            page = markdown_report(comparison, stems, options["units"], uncertainty)
            (scratch / "report.md").write_text(page, encoding="utf-8", newline="")
        write_manifest(scratch, manifest | comparison.played())
