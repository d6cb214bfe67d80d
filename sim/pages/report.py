"""The report page: what its template shows, made by pure functions from a finished report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from markupsafe import Markup

from sim import __version__, pages
from sim.analyses.report import Report
from sim.analyses.sensitivity import Sensitivity
from sim.pages.report_charts import Dot, Icons, Scale, dot, icons, scale_of
from sim.pages.report_court import view_box
from sim.pages.report_views import SHOWN, Views, dots, numbers
from sim.quantities import TAGS
from sim.settings import Setting, settings
from sim.tables import Row
from sim.texts import report as words
from sim.texts import report_answer as answers
from sim.texts import report_change as change_words
from sim.texts.comparison import leak_table
from sim.texts.report_middle import middle_sentence, middle_table
from sim.texts.report_words import each_in_plain_words
from sim.texts.table import length
from sim.wording import CAUTIONS, LIMITS, MINUS, points

# What goes on paper, for more would take a third page: so many inputs, those that matter most (and
# fewer where the names of two policies are so long), and so many policies, the best.
_MOST_PRINTED: Final = 6
_MOST_WITH_LONG_NAMES: Final = 3
_LONG_NAMES: Final = 36
# Letters of the answer and of all policies in one line, from which on paper has smaller ones.
_LONG_ANSWER: Final = 300
_MOST_POLICIES_PRINTED: Final = 6


@dataclass(frozen=True)
class Table:
    """A table's header and rows; the first cell of each is what the row is about."""

    header: Sequence[str]
    rows: Sequence[Sequence[str]]


@dataclass(frozen=True)
class PolicyRow:
    """A policy among the others: its shares, the same on a scale, and its differences."""

    name: str
    leads: bool
    baseline: bool
    printed: bool
    dot: Dot | None
    in_control: str
    reached: str
    differences: tuple[str, str]


@dataclass(frozen=True)
class ChangeRow:
    """One input moved to its ends, on a scale and in words."""

    change: change_words.Change
    low: Dot
    high: Dot


@dataclass(frozen=True)
class Assumption:
    """What stands for an input: its value here, and for every number in it, tag and source."""

    label: str
    value: str
    given: bool
    tags: tuple[str, ...]
    sources: tuple[str, ...]


def report_page(report: Report, units: str) -> str:
    """The whole page as HTML."""
    return pages.page("report.html.j2", **context(report, units))


def context(report: Report, units: str) -> dict[str, Any]:
    """All that the template shows."""
    views = Views(report, units)
    panels = [views.panel(switch) for switch in report.switches]
    leading = next(panel for panel in panels if panel.name == report.leader)
    against = answers.compared_with(report, report.leader)
    scenario = report.scenario
    long_names = len(report.leader) + len(report.rival or "") > _LONG_NAMES
    answer, ranking = answers.answer(report), answers.ranking(report)
    return {
        "scenario": scenario,
        "start": words.where_they_start(scenario),
        "answer": answer,
        "by_the_answer": words.BY_THE_ANSWER,
        "also": [text for text in (ranking, words.coarse_steps(report)) if text],
        "icons": _icons(report, views, against),
        "alike": against is not None and not answers.told_from_other(report, report.leader),
        "directions": scenario.return_of_serve.directions,
        "box": view_box([seen for courts in report.views for seen in courts.values()]),
        "panels": panels,
        "leading": leading,
        "shown": SHOWN,
        "switch": _controls(report, views),
        "policies": policy_rows(report),
        "shares_scale": _ticks(_shares_scale(report)),
        "leaks": _table(leak_table(report.comparison)),
        **_middle(report),
        "middle_sentence": _middle_sentence(report),
        "sampling": change_words.sampling(report),
        "inputs": change_words.inputs(report),
        "curious": change_words.curious(report),
        "doubt": report.doubt and _doubt(report, report.doubt, units),
        "most_printed": _MOST_WITH_LONG_NAMES if long_names else _MOST_PRINTED,
        "long_names": long_names or len(answer) + len(ranking) > _LONG_ANSWER,
        "told_ahead": answers.told_ahead(report) and not report.alike,
        **_assumptions(report, units),
        "limits": LIMITS,
        "cautions": CAUTIONS,
        "numbers": Markup(numbers(views)),
        "version": __version__,
    }


def _icons(report: Report, views: Views, against: str | None) -> list[Icons]:
    """A hundred balls of the leader and the other; the same where these are not told apart."""
    switch = next(each for each in report.switches if each.policy.name == report.leader)
    alike, rows = views.alike(switch, switch.own_variant), answers.overall(report)
    found = []
    for name in (report.leader, against):
        if name is not None:
            shown = dots(alike or rows[name])
            found.append(icons(name, shown["icons"] or (0, 0, 0), shown["frequencies"]))
    return found


def _middle(report: Report) -> dict[str, Any]:
    """Who takes the middle: the leader and its rival, and folded what else there is."""
    table = middle_table(report)
    names = (report.leader, report.rival)
    return {
        "middle": Table(table[0], [row for row in table[1:] if row[0] in names]),
        "middle_rest": Table(table[0], [row for row in table[1:] if row[0] not in names]),
        "middle_others": max(len(report.scenario.policies) - 2, 0),
    }


def _controls(report: Report, views: Views) -> dict[str, Any]:
    """How the switches stand at first: at the leader, as the scenario has it."""
    switch = next(each for each in report.switches if each.policy.name == report.leader)
    variant = report.variants[switch.own_variant]
    return {
        "said": views.said(switch, switch.own_variant),
        "spacing": "" if variant.spacing is None else length(variant.spacing, views.units),
        "shift": "" if variant.shift is None else words.shift_words(variant.shift),
        "no_spacing": words.why_no_spacing(switch),
        "no_shift": words.why_no_shift(switch),
        "own": switch.own,
        "most": (max(len(switch.spacings) - 1, 0), max(len(switch.shifts) - 1, 0)),
    }


def _estimates(row: Row) -> list[float]:
    return [100.0 * row[f"in_control_{end}"] for end in ("share", "low", "high")]


def _shares_scale(report: Report) -> Scale:
    rows = answers.overall(report).values()
    return scale_of([x for row in rows for x in _estimates(row)], limits=(0.0, 100.0))


def policy_rows(report: Report) -> list[PolicyRow]:
    """Every policy: shares with intervals, and paired differences to the baseline."""
    scale, baseline = _shares_scale(report), report.scenario.baseline.name
    printed = _printed(report)
    control, reached = (answers.differences(report, m) for m in ("in_control", "reached"))
    found = []
    for name, row in answers.overall(report).items():
        shown = answers.estimate(row, "in_control")
        against = ("baseline", "baseline")
        if name != baseline:
            against = (points(control[name]), points(reached[name]))
        found.append(
            PolicyRow(
                name=name,
                leads=name == report.leader,
                baseline=name == baseline,
                printed=name in printed,
                dot=dot(scale, _estimates(row), f"{name}: in control, % {shown}")
                if row["in_play"]
                else None,
                in_control=shown,
                reached=answers.estimate(row, "reached"),
                differences=against,
            )
        )
    return found


def _printed(report: Report) -> set[str]:
    """The policies that go on paper: leader and rival, and those with most in control."""
    rows = answers.overall(report)
    order = sorted(rows, key=lambda name: -rows[name]["in_control"])
    first = [name for name in (report.leader, report.rival) if name is not None]
    return set([*dict.fromkeys([*first, *order])][:_MOST_POLICIES_PRINTED])


def _ticks(scale: Scale) -> list[tuple[str, str]]:
    """Where the ticks of a scale stand, and what is written there."""
    return [(scale.at(tick), f"{tick:g}".replace("-", MINUS)) for tick in scale.ticks]


def _table(rows: Sequence[Sequence[str]]) -> Table:
    return Table(rows[0], rows[1:])


def _middle_sentence(report: Report) -> str:
    own = [row for row in report.middle if row.policy == report.leader and row.direction == "all"]
    return middle_sentence(own[0]) if own else ""


def _doubt(report: Report, doubt: Sensitivity, units: str) -> dict[str, Any]:
    """What would change the answer: every input's ends on one scale, and in words."""
    ahead = answers.told_ahead(report)
    ends = [value for pair in (*doubt.ends, (doubt.usual,)) for end in pair for value in end]
    scale = scale_of([*ends, 0.0])
    rows = []
    for change in change_words.changes(doubt, units, ahead=ahead):
        low, high = doubt.ends[change.number]
        rows.append(ChangeRow(change, dot(scale, low, change.low), dot(scale, high, change.high)))
    first, *others = change_words.what_hangs(doubt, ahead=ahead)
    return {
        "rows": rows,
        "ticks": _ticks(scale),
        "zero": scale.at(0.0),
        "usual": dot(scale, doubt.usual, ""),
        "names": (doubt.scenario.baseline.name, doubt.policy.name),
        "turning": [first, *filter(None, [" ".join(others)])],
    }


def _assumptions(report: Report, units: str) -> dict[str, Any]:
    """What the answer rests on: what matters first, then every setting."""
    entries = settings(report.scenario, units)
    return {
        "matters": _that_matter(report, entries, units),
        "given": [entry for entry in entries if entry.given],
        "defaults": [entry for entry in entries if not entry.given and entry.tag],
        "tags": TAGS,
    }


def _that_matter(report: Report, entries: Sequence[Setting], units: str) -> list[Assumption]:
    """The inputs in doubt as the scenario has them, those that matter most first."""
    if report.doubt is None:
        return []
    found = []
    for k in change_words.effects(report.doubt, ahead=answers.told_ahead(report)).order:
        each = report.doubt.inputs[k]
        own = [entry for entry in entries if any(_belongs(key, entry.key) for key in each.keys)]
        default = [entry for entry in own if not entry.given]
        found.append(
            Assumption(
                label=each.label,
                value=_value(own, change_words.value_here(report.scenario, each, units)),
                given=len(default) < len(own),
                tags=tuple(dict.fromkeys(entry.tag for entry in default)),
                sources=tuple(dict.fromkeys(entry.source for entry in default)),
            )
        )
    return found


def _value(own: Sequence[Setting], here: str) -> str:
    """A value as people read it; a factor of unlike numbers says nothing, they do."""
    if not here.endswith(change_words.FACTOR):
        return here
    return each_in_plain_words({entry.key: entry.value for entry in own})


def _belongs(key: str, setting: str) -> bool:
    """Whether a number is a setting, or a part of one, such as the mean of a distribution."""
    return key == setting or key.startswith(f"{setting}.")
