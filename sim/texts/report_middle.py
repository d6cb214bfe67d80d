"""What the report says of the middle: who takes the balls that come between the two."""

from __future__ import annotations

from typing import Final

from sim.analyses.middle import Middle, Share
from sim.analyses.report import Report
from sim.wording import DIRECTIONS, LEAST_TOLD, coarser, percent, quoted

_MIDDLE_HEAD: Final = (
    "policy",
    "between the two, of 100 in play",
    "left, in control",
    "right, in control",
    "at full stretch",
    "through",
    "either could have",
    "on a forehand",
)


def middle_sentence(row: Middle) -> str:
    """Who takes the balls between the two, in balls of 100; their intervals stand in the table."""
    if not row.between.balls:
        return f"With {quoted(row.policy)} no ball comes between the two."
    return (
        f"With {quoted(row.policy)} about {_about(row.between)} of 100 balls in play come between "
        f"the two. Of 100 of these the left player takes about {_about(row.by_left)} in control, "
        f"the right player {_about(row.by_right)}; {_about(row.at_full_stretch)} are met at full "
        f"stretch and {_about(row.through)} get through. Either could have had "
        f"{_about(row.both_could)} in control: agree beforehand who takes those."
    )


def _about(share: Share) -> str:
    """Balls of 100, whole; what is rare but there is not called none."""
    if not share.balls:
        return "none"
    if 100.0 * share.share < LEAST_TOLD:
        return "under 1"
    return coarser([100.0 * each for each in (share.share, share.low, share.high)])


def middle_table(report: Report) -> list[list[str]]:
    """Who takes the middle: the leader after all and each of the returns, then all the others."""
    single = len(report.scenario.return_of_serve.directions) == 1
    own, others = list[Middle](), list[Middle]()
    for row in report.middle:
        if row.policy == report.leader and not (single and row.direction != "all"):
            own.append(row)
        elif row.direction == "all":
            others.append(row)
    # The rival comes first of the others.
    others.sort(key=lambda row: row.policy != report.rival)
    return [[*_MIDDLE_HEAD], *(_middle_row(row) for row in (*own, *others))]


def _middle_row(row: Middle) -> list[str]:
    # Those of one return stand below the policy that they are of.
    all_returns = row.direction == "all"
    name = row.policy if all_returns else f"after returns {DIRECTIONS[row.direction]}"
    ways = (row.by_left, row.by_right, row.at_full_stretch, row.through)
    shares = (row.between, *ways, row.both_could, row.forehand)
    return [name, *(percent(*share[2:]) if share.of else "none" for share in shares)]
