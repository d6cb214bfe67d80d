"""Tables of the way in, and the words they share with its sentences."""

from __future__ import annotations

from typing import Final

from sim.analyses.approach import Approach
from sim.analyses.approach_returns import Return, Tried
from sim.return_of_serve import returner_side
from sim.run_in import PLAYERS
from sim.tables import Row
from sim.texts.table import length
from sim.units import in_unit
from sim.wording import DIRECTIONS, percent, points

RETURNS: Final = {"all": "all returns"} | DIRECTIONS


def arrival_table(result: Approach, units: str) -> list[list[str]]:
    """When players would arrive, when the opponents strike, and where the shot finds both."""
    table = [["policy", "player", "there after", "they strike after", "arrived, %", "from net"]]
    directions = result.directions
    for row in result.arrival_rows:
        if row["return_direction"] != directions[0]:
            continue
        both = row["player"] == "both"
        table.append(
            [
                row["policy"] if row["player"] == PLAYERS[0] else "",
                _player(result, row["player"]),
                _with_middle(row, "needs_s"),
                _with_middle(row, "has_s") if row["player"] == PLAYERS[0] else "",
                percent(row["arrived_share"], row["arrived_low"], row["arrived_high"]),
                length(row["from_net_ft"], units) if both else _middle_length(row, units),
            ]
        )
    return table


def _player(result: Approach, name: str) -> str:
    returner = "right" if returner_side(result.scenario) > 0 else "left"
    return f"{name}, returner" if name == returner else name


def _with_middle(row: Row, name: str) -> str:
    low, high = row[f"{name}_p10"], row[f"{name}_p90"]
    if f"{low:.2f}" == f"{high:.2f}":
        return f"{row[name]:.2f} s"
    return f"{row[name]:.2f} s ({low:.2f} to {high:.2f})"


def _middle_length(row: Row, units: str) -> str:
    low, high = (length(row[f"from_net_ft_{end}"], units) for end in ("p10", "p90"))
    if low == high:
        return length(row["from_net_ft"], units)
    return f"{length(row['from_net_ft'], units)} ({low.split()[0]} to {high.split()[0]})"


def spacing_table(result: Approach, units: str) -> list[list[str]]:
    """How far apart the two are at parts of the time, on average."""
    table = [["policy", "0 %", "25 %", "50 %", "75 %", "shot", "narrowest", "widest"]]
    names = [f"at_{part}_percent_ft" for part in (0, 25, 50, 75, 100)]
    for row in result.spacing_rows:
        if row["return_direction"] == result.directions[0]:
            shown = [length(row[name], units) for name in (*names, "narrowest_ft", "widest_ft")]
            table.append([row["policy"], *shown])
    return table


def split_step_table(result: Approach, units: str) -> list[list[str]]:
    """Who stops minus who runs on; the first policy after each return, too."""
    table = [["policy", "returns", "in control, points", "reached, points", "found deeper by"]]
    first = result.twins[0].policy.name
    for twins in result.twins:
        name = twins.policy.name
        for direction in result.directions if name == first else result.directions[:1]:
            control, reached = (
                split_step_row(result, name, measure, direction)
                for measure in ("in_control", "reached")
            )
            table.append(
                [
                    name,
                    direction,
                    points(control),
                    points(reached),
                    length(control["deeper_ft"], units),
                ]
            )
    return table


def curve_table(curve: list[Tried], units: str) -> list[list[str]]:
    """Returns that get deeper, or higher."""
    how = "high" if curve[0].what.depth is None else "deep"
    heading = "lands at" if how == "deep" else how
    table = [[heading, "they strike after", "both arrived, %", "from net", "in control, %"]]
    for tried in curve:
        table.append([round_length(size_of(tried.what, how), units), *_cells(tried, units)])
    return table


def _cells(tried: Tried, units: str) -> list[str]:
    if not tried.balls:
        return ["no balls in play", "", "", ""]
    row = tried.row()
    arrived, control = (
        percent(*(row[f"{name}_{end}"] for end in ("share", "low", "high")))
        for name in ("arrived", "in_control")
    )
    return [f"{tried.mean('time'):.2f} s", arrived, length(tried.depth, units), control]


def chosen_table(result: Approach, units: str) -> list[list[str]]:
    """The best of the returns tried, by their virtue."""
    table = [["", "return", "they strike after", "both arrived, %", "from net", "in control, %"]]
    for virtue, tried in result.returns.chosen.items():
        table.append([virtue, return_words(tried.what, units), *_cells(tried, units)])
    return table


def split_step_row(
    result: Approach, policy: str, measure: str, direction: str | None = None
) -> Row:
    """A row of the split step's table; without a direction that of all returns together."""
    wanted = direction or result.directions[0]
    return next(
        row
        for row in result.split_step_rows
        if (row["policy"], row["measure"], row["return_direction"]) == (policy, measure, wanted)
    )


def size_of(what: Return, how: str) -> float:
    """How ``high`` or ``deep`` a return is (ft); NaN where the scenario draws it."""
    value = what.height if how == "high" else what.depth
    return float("nan") if value is None else value


def return_words(what: Return, units: str) -> str:
    """Direction, height and depth of a return of the grid."""
    depth, height = (round_length(value or 0.0, units) for value in (what.depth, what.height))
    return f"{RETURNS[what.direction]}, {height} high and landing {depth} from the net"


def round_length(feet: float, units: str) -> str:
    """A length that was set, in whole feet or tenths of a metre."""
    return f"{feet:.0f} ft" if units == "us" else f"{in_unit(feet, 'length', 'm'):.1f} m"
