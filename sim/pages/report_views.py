"""Every setting of every policy as the report page shows it: courts, shares, and words.

All of it is made once, here: the page's script looks it up and moves marks, and works nothing out.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Final

from sim.analyses.court_views import CourtView
from sim.analyses.report import Report
from sim.analyses.variants import Switch
from sim.outputs import DECIMALS
from sim.pages import isolated
from sim.pages.report_court import Drawing, drawing
from sim.run_in import PLAYERS
from sim.tables import Row
from sim.texts.report import (
    another_setting,
    frequencies,
    frequency_words,
    numbers_words,
    setting_words,
    shift_words,
    together,
    why_no_shift,
    why_no_spacing,
)
from sim.texts.report_answer import compared_with, estimate, told_from_other
from sim.texts.table import length
from sim.wording import DIRECTIONS, points, quoted

# Of a policy as it stands there is nothing to tell: the page's script hides what has no text.
UNCHANGED: Final = ""
# What stands under a court: the key that page and script know it by, and its words.
SHOWN: Final = {
    "in_control": "in control, %",
    "reached": "reached, %",
    "change": "of 100 in control, against how it stands",
}


@dataclass(frozen=True)
class View:
    """A setting after returns in one direction; without a drawing where no ball is in play."""

    direction: str
    heading: str
    words: str
    drawing: Drawing | None
    shown: dict[str, str]


@dataclass(frozen=True)
class Panel:
    """A policy as the scenario has it: a court by return direction, and all returns together."""

    slug: str
    name: str
    about: str
    views: tuple[View, ...]
    all: View


class Views:
    """The settings of a report's policies, in words of a unit system."""

    def __init__(self, report: Report, units: str) -> None:
        self.report, self.units = report, units
        self.directions = [*report.scenario.return_of_serve.directions, "all"]
        self.rows = {
            (row["variant"], row["return_direction"]): as_written(row) for row in report.rows
        }
        self.changes = {
            (row["policy"], row["variant"], row["return_direction"]): as_written(row)
            for row in report.changes
        }
        self.drawings = [
            {direction: drawing(seen) for direction, seen in courts.items()}
            for courts in report.views
        ]

    def panel(self, switch: Switch) -> Panel:
        """A policy as the scenario has it."""
        own, name = switch.own_variant, switch.policy.name
        views = {direction: self._view(switch, direction) for direction in self.directions}
        whole = views.pop("all")
        about = setting_words(name, self.report.variants[own], self.units)
        return Panel(switch.policy.slug, name, about, tuple(views.values()), whole)

    def _view(self, switch: Switch, direction: str) -> View:
        own = switch.own_variant
        seen = self.report.views[own].get(direction)
        return View(
            direction=direction,
            heading=heading(direction),
            words="" if seen is None else court_words(seen, self.units),
            drawing=self.drawings[own].get(direction),
            shown=self.shares(own, direction) | {"change": self.change(switch, own, direction)},
        )

    def shares(self, variant: int, direction: str) -> dict[str, str]:
        """A variant's shares with their intervals."""
        row = self.rows[variant, direction]
        return {measure: estimate(row, measure) for measure in ("in_control", "reached")}

    def change(self, switch: Switch, variant: int, direction: str) -> str:
        """How many more of 100 a setting gets in control than the policy as it stands."""
        if variant == switch.own_variant:
            return UNCHANGED
        row = self.changes[switch.policy.name, variant, direction]
        return gain(*(row[f"in_control_points{end}"] for end in ("", "_low", "_high")))

    def said(self, switch: Switch, variant: int) -> str:
        """What is said when a setting is chosen."""
        row = self.rows[variant, "all"]
        chosen, own = self.report.variants[variant], self.report.variants[switch.own_variant]
        if variant == switch.own_variant:
            name = setting_words(switch.policy.name, chosen, self.units)
            return f"{name}. Of 100 balls in play {frequency_words(row)}."
        name = another_setting(switch.policy.name, own, chosen, self.units)
        return (
            f"{name}. Of 100 balls in play {frequency_words(row)}; in control, against how "
            f"{quoted(switch.policy.name)} stands: {self.change(switch, variant, 'all')}."
        )

    def dots_name(self, switch: Switch, variant: int) -> str:
        """What the hundred balls of a setting are headed by."""
        if variant == switch.own_variant:
            return switch.policy.name
        return f"Another setting: {numbers_words(self.report.variants[variant], self.units)}"

    def alike(self, switch: Switch, variant: int) -> Row | None:
        """The balls of a setting and of what it is drawn beside, where they are not told apart.

        A policy as it stands is drawn beside the one it is compared with; any other setting beside
        the policy as it stands.
        """
        rows, name = self.rows, switch.policy.name
        if variant == switch.own_variant:
            other = compared_with(self.report, name)
            if other is None or told_from_other(self.report, name):
                return None
            own = next(each for each in self.report.switches if each.policy.name == other)
            pair = variant, own.own_variant
        else:
            row = self.changes[name, variant, "all"]
            if not row["in_control_points_low"] <= 0.0 <= row["in_control_points_high"]:
                return None
            pair = variant, switch.own_variant
        found = together(rows[number, "all"] for number in pair)
        return found if found["in_play"] else None


def gain(value: float, low: float, high: float) -> str:
    """A difference in balls of 100, no more said than its interval tells.

    >>> gain(1.21, 0.92, 1.5), gain(-0.2, -0.5, 0.1)
    ('1.2 [0.9, 1.5] more of 100', 'too close to tell (−0.2 [−0.5, +0.1])')
    """
    if low <= 0.0 <= high:
        return f"too close to tell ({_points(value, low, high)})"
    ends = (value, low, high) if value > 0.0 else (-value, -high, -low)
    return f"{_points(*ends).replace('+', '')} {'more' if value > 0.0 else 'fewer'} of 100"


def _points(value: float, low: float, high: float) -> str:
    return points({"points": value, "points_low": low, "points_high": high})


def heading(direction: str) -> str:
    """A return direction as a heading."""
    return "After all returns" if direction == "all" else f"After returns {DIRECTIONS[direction]}"


def as_written(row: Row) -> Row:
    """A row as the table beside the page holds it, so that both round to the same."""
    return {
        name: round(value, DECIMALS) if isinstance(value, float) else value
        for name, value in row.items()
    }


def court_words(seen: CourtView, units: str) -> str:
    """What a court shows, for those who do not see it."""
    found = [
        f"the {name} player {place_words(seen.players[name].found, units)}" for name in PLAYERS
    ]
    return (
        f"The shot finds {' and '.join(found)}; {seen.missed:,} of {seen.in_play:,} balls in play "
        "got through."
    )


def place_words(point: tuple[float, float], units: str) -> str:
    """Where a player stands, from the centre line and the net.

    >>> place_words((-4.3, -12.9), "us")
    '4.3 ft left of the centre line, 12.9 ft from the net'
    """
    side = "left" if point[0] < 0.0 else "right"
    across, depth = length(abs(point[0]), units), length(-point[1], units)
    return f"{across} {side} of the centre line, {depth} from the net"


def numbers(views: Views) -> str:
    """All that the page's script looks up, as JSON that may stand in a page.

    Outlines that stand more than once are kept once, and given by their number.
    """
    outlines: dict[str, int] = {}
    report = views.report
    data = {
        "policies": {switch.policy.slug: _policy(views, switch) for switch in report.switches},
        "variants": [_variant(views, number, outlines) for number in range(len(report.variants))],
        "outlines": list(outlines),
    }
    text = isolated(json.dumps(data, ensure_ascii=False, separators=(",", ":")))
    # No name in it may end the script that holds it, or begin a remark.
    return text.replace("<", "\\u003c")


def _policy(views: Views, switch: Switch) -> dict[str, Any]:
    report = views.report
    against = compared_with(report, switch.policy.name)
    slugs = {each.policy.name: each.policy.slug for each in report.switches}
    return {
        "name": switch.policy.name,
        "spacings": [length(spacing, views.units) for spacing in switch.spacings],
        "shifts": [shift_words(shift) for shift in switch.shifts],
        "noSpacing": why_no_spacing(switch),
        "noShift": why_no_shift(switch),
        "own": list(switch.own),
        "against": None if against is None else slugs[against],
        "settings": [[_setting(views, switch, n) for n in line] for line in switch.variants],
    }


def _setting(views: Views, switch: Switch, variant: int) -> dict[str, Any]:
    """What of a variant depends on whose it is: words with the name, and what has changed."""
    alike = views.alike(switch, variant)
    return {
        "variant": variant,
        "said": views.said(switch, variant),
        "name": views.dots_name(switch, variant),
        "alike": None if alike is None else dots(alike),
        "change": {name: views.change(switch, variant, name) for name in views.directions},
    }


def dots(row: Row) -> dict[str, Any]:
    """A hundred balls of a row by kind, and in words."""
    icons = list(frequencies(row)) if row["in_play"] else []
    return {"icons": icons, "frequencies": frequency_words(row)}


def _variant(views: Views, variant: int, outlines: dict[str, int]) -> dict[str, Any]:
    row = views.rows[variant, "all"]
    seen = views.report.views[variant]
    return {
        **dots(row),
        "shown": {name: views.shares(variant, name) for name in views.directions},
        "courts": {
            name: {"words": court_words(seen[name], views.units), **_moving(court, outlines)}
            for name, court in views.drawings[variant].items()
        },
    }


def _moving(court: Drawing, outlines: dict[str, int]) -> dict[str, Any]:
    """What changes on a court from setting to setting."""
    parts: dict[str, Any] = {"through": [court.through, court.beyond_left, court.beyond_right]}
    for name, player in court.players.items():
        areas = (player.at_full_stretch, player.in_control)
        parts[name] = {
            "found": player.found,
            "target": player.target,
            "start": player.start,
            "way": player.way,
            "areas": [outlines.setdefault(area, len(outlines)) for area in areas],
        }
    return parts
