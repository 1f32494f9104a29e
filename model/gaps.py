"""Clearances as findings: what is wanted of every two parts, and whether they keep it."""

from __future__ import annotations

from model.clearance import Clearance
from model.limits import CLOSE_SHARE
from model.measures import GAP, Quantity
from model.pairs import CLOSE
from model.verdicts import SLACK, Finding, State


def gap_name(clearance: Clearance) -> str:
    """Two parts in words: "left wheel – left rail"."""
    return " – ".join(clearance.labels)


def clearance_findings(found: tuple[Clearance, ...]) -> tuple[Finding, ...]:
    """One finding for each clearance, in the same order: least left first.

    Parts that touch are over, and so are those nearer than the scene wants them. Nearer than is typical is close, and
    so is less than `CLOSE` where nothing is wanted.
    """
    return tuple(_finding(each) for each in found)


def gap_state(clearance: Clearance, distance: float) -> State:
    """The state of a pair at a distance in mm."""
    wanted, slack = clearance.wanted, SLACK[Quantity.LENGTH]
    if distance <= 0.0 or (not wanted.typical and distance < wanted.least - slack):
        return State.OVER
    near = max(wanted.least, CLOSE) if wanted.typical or wanted.least == 0.0 else wanted.least / CLOSE_SHARE
    return State.CLOSE if distance < near - slack else State.CLEAR


def _finding(each: Clearance) -> Finding:
    state = gap_state(each, each.distance)
    middle = each.points.mean(axis=0)
    return Finding(
        what=GAP,
        where=gap_name(each),
        part=each.labels[0],
        state=state,
        quantity=Quantity.LENGTH,
        used=each.distance,
        limit=each.wanted.least,
        typical=each.wanted.typical,
        source=each.wanted.source,
        pose=each.pose,
        drives=each.drives,
        at=(float(middle[0]), float(middle[1]), float(middle[2])),
        at_least=True,
        ride=each.ride,
        lowest=each.distance,
        highest=None,
        missed=each.together is not None and gap_state(each, each.together) is not state,
        measured_at=gap_name(each),
    )
