"""Section 7 of the model page, "Policies".

A policy says where the two should be when the opponents strike: a centre, a spacing, a depth,
and whether they stop for it.
"""

from __future__ import annotations

import math

from tests.reference.court import HALF_WIDTH, Vec2


def bisect_x(contact_x: float, contact_y: float, depth: float) -> float:
    """``x`` (ft), at a depth (ft from the net), of the bisector of the angle from the contact to
    the two sidelines at that depth."""
    ahead = contact_y + depth
    to_left = math.atan2(-HALF_WIDTH - contact_x, ahead)
    to_right = math.atan2(HALF_WIDTH - contact_x, ahead)
    return contact_x + ahead * math.tan((to_left + to_right) / 2.0)


def target_centre(
    rule: str,
    contact_x: float,
    contact_y: float,
    k: float,
    *,
    spacing: float = 7.0,
    depth: float = 8.0,
    shift: float = 0.40,
    fixed: float = 0.0,
) -> float:
    """Centre ``x`` of the pair (ft) under a rule, clipped so that both stand on the court.

    Args:
        rule: ``follow``, ``tethered``, ``halves``, ``centre``, ``bisect`` or ``fixed``.
        contact_x: ``x`` of the opponents' contact (ft).
        contact_y: ``y`` of the opponents' contact (ft).
        k: side of the returner, +1 or -1.
        spacing: distance between the two players (ft); ``halves`` always uses 10.
        depth: distance of the pair from the net (ft).
        shift: part of the contact's ``x`` that ``follow`` moves by.
        fixed: the centre for ``fixed`` (ft).
    """
    if rule == "follow":
        centre = shift * contact_x
    elif rule == "tethered":
        centre = 5.0 * k - k * spacing / 2.0
    elif rule == "halves":
        centre, spacing = 0.0, 10.0
    elif rule == "centre":
        centre = 0.0
    elif rule == "bisect":
        centre = bisect_x(contact_x, contact_y, depth)
    elif rule == "fixed":
        centre = fixed
    else:
        raise ValueError(f"unknown rule {rule!r}")
    room = max(0.0, HALF_WIDTH - spacing / 2.0)
    return min(room, max(-room, centre))


def target_positions(
    rule: str,
    contact_x: float,
    contact_y: float,
    k: float,
    *,
    spacing: float = 7.0,
    depth: float = 8.0,
    shift: float = 0.40,
    fixed: float = 0.0,
    places: tuple[Vec2, Vec2] | None = None,
) -> tuple[Vec2, Vec2]:
    """Targets (x, y) of the left and the right player (ft). Arguments as in `target_centre`.

    For ``best``, ``places`` are those of the left and the right player: how far to the right of the
    centre line, and how far from the net (ft).
    """
    if rule == "best":
        if places is None:
            raise ValueError("the rule best needs places")
        return (places[0][0], -places[0][1]), (places[1][0], -places[1][1])
    centre = target_centre(
        rule, contact_x, contact_y, k, spacing=spacing, depth=depth, shift=shift, fixed=fixed
    )
    if rule == "halves":
        spacing = 10.0
    return (centre - spacing / 2.0, -depth), (centre + spacing / 2.0, -depth)
