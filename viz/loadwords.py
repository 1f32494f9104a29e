"""What forces in a load case mean, in words that a person under the car understands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from model.forces import CaseLoads, CoiloverLoad
from model.mechanism import LoadCase, Mechanism
from model.naming import SIDES
from model.units import Length, degrees_text
from viz.words import NOTHING

FOR_COMPARISON = "Forces are for comparison, not a strength check: a licensed engineer does that."
SHORT_NOTE = "for comparison, not a strength check"
TYPICAL = "Typical cases, common practice, no source: write your own as [case.NAME] in the scene."
SPRING_CAUTION = (
    "A spring holds what is in these tables, and more when it is squeezed by hand: set free, it can maim or kill."
)
METHOD = (
    "Statics of rigid parts in the pose: the ground pushes at the tyres, what is unsprung pulls down at the middle of "
    "the wheel, nothing else has weight, nothing has inertia, dampers and bump stops push nothing. Along the line of "
    "two pivots, and about a link that carries a coilover, statics cannot tell two joints apart: each is given half."
)
BUSHES = "Bushes answer in proportion to the load, at the geometry of the pose."
SHAFT_TORQUE = (
    "What a driveshaft's own torque does to the axle, which unloads one wheel and loads the other, is left out."
)
BAR_UNKNOWN = "The anti-roll bar is left out: the scene gives neither its rate nor its diameter."
# Springs are made to their rate within some 5 % (typical, from memory), so that nearer is as good as equal.
ALIKE = 0.05
# From this share of the way to an end of the travel a stop or strap is at work (common practice, no source).
AT_END = 0.9
# N at a rack or N·mm at a pitman arm, and degrees of a bar: less is printed as nothing.
LEAST_HELD, LEAST_TWIST = 0.5, 0.05
# N·mm: less is printed as nothing.
LEAST_BENT = 50.0
# mm: nearer to ride height is at ride height.
LEAST_HEIGHT = 0.05


def notes_on(loads: Sequence[CaseLoads]) -> list[str]:
    """What has to be known of some cases of one scene."""
    mechanism = loads[0].poses.mechanism
    carried = any(wheel.driven and wheel.drive_on_carrier for wheel in mechanism.wheels)
    notes = [TYPICAL] if any(each.case.typical for each in loads) else []
    notes.append(METHOD)
    notes += [BUSHES] * bool(mechanism.bushings)
    notes += [SHAFT_TORQUE] * (carried and any(each.case.drive for each in loads))
    notes += [BAR_UNKNOWN] * any(not bar.known for each in loads for bar in each.bars)
    return notes


def height_text(at: str | float, units: Length) -> str:
    """Where a wheel stands, in words."""
    if isinstance(at, str):
        return {"ride": "ride height", "bump": "full bump", "droop": "full droop"}[at]
    if abs(at) < LEAST_HEIGHT:
        return "ride height"
    return f"{units.text(abs(at))} {'up' if at > 0.0 else 'down'}"


def stands_text(loads: CaseLoads, units: Length) -> str:
    """Where both wheels stand."""
    at: Sequence[str | float] = loads.case.at
    if loads.case.settles:
        at = [float(loads.poses.travel.column(side)[0]) for side in ("left", "right")]
    left, right = (height_text(each, units) for each in at)
    both = left if left == right else f"left {left}, right {right}"
    return f"{both}, settled" if loads.case.settles else both


def vertical_text(case: LoadCase) -> str:
    """How often its weight each wheel carries."""
    left, right = (f"{factor:g} ×" for factor in case.vertical)
    return left if left == right else f"left {left}, right {right}"


def along_text(case: LoadCase) -> str:
    """Braking or driving force, as a share of the vertical one."""
    if case.brake:
        return f"{case.brake:g} to the rear"
    return f"{case.drive:g} ahead, driven wheels" if case.drive else NOTHING


def side_text(case: LoadCase) -> str:
    """Side force, as a share of the vertical one."""
    return f"{abs(case.side):g} to the {'left' if case.side > 0.0 else 'right'}" if case.side else NOTHING


def axial_text(force: float, units: Length) -> str:
    """A force along a link, and which way it goes."""
    text = units.force_text(abs(force))
    return text if text.startswith("0 ") else f"{text} {'pull' if force > 0.0 else 'push'}"


def coilover_text(coilover: CoiloverLoad, loads: CaseLoads, units: Length) -> str:
    """What the difference between the force that a case needs and the one that the spring gives comes to."""
    if coilover.given is None or coilover.rate is None:
        return "no spring in the scene to hold it"
    if coilover.needed < 0.0:
        return "it would have to pull, which no spring does: that wheel goes down until it hangs"
    more = coilover.needed - coilover.given
    if abs(more) <= ALIKE * max(coilover.needed, coilover.given):
        return "its spring holds that"
    return _difference_text(more, coilover.rate, _end_of_travel(coilover, loads), units)


def _difference_text(more: float, rate: float, place: str | None, units: Length) -> str:
    """What takes what a spring of a rate in N/mm lacks, or gives too much where `more` (N) is below 0."""
    other, way = units.force_text(abs(more)), units.text(abs(more) / rate)
    if more > 0.0 and place == "bump":
        return f"bump stop and tyre take the other {other}"
    if more > 0.0:
        return f"the spring lacks {other}: it goes in {way} more, or a stop takes the rest"
    if place == "droop":
        return f"strap or damper hold back the other {other} of the spring"
    return f"the spring pushes {other} more than that: it goes out {way} from here"


def _end_of_travel(coilover: CoiloverLoad, loads: CaseLoads) -> str | None:
    """Whether the wheel on a coilover's side, either one for a coilover in the middle, stands at full bump or droop."""
    ends = set()
    for drive, height in zip(loads.poses.mechanism.drives, loads.poses.travel.values[0], strict=True):
        if drive.name in SIDES and not coilover.name.startswith(tuple(set(SIDES) - {drive.name})):
            ends |= {"bump"} if height >= AT_END * drive.high else {"droop"} if height <= AT_END * drive.low else set()
    return next(iter(ends)) if len(ends) == 1 else None


def other_texts(loads: CaseLoads, units: Length) -> dict[str, str]:
    """What the steering holds, what twists anti-roll bars and what bends links, by what it is."""
    steering, said = loads.steering, {}
    if steering is not None and abs(steering.force) >= LEAST_HELD:
        size = abs(steering.force)
        text = units.moment_text(size) if steering.turns else units.force_text(size)
        said[f"{steering.part}, held by the steering gear"] = text
    for bar in loads.bars:
        twist = float(np.degrees(abs(bar.twist)))
        if bar.known and twist >= LEAST_TWIST:
            said[f"{bar.name}, twisted"] = f"{units.moment_text(abs(bar.moment))}, {degrees_text(twist)}"
    for link in loads.links:
        if link.bending >= LEAST_BENT:
            said[f"{link.name}, bent where its coilover sits"] = units.moment_text(link.bending)
    return said


def rest_text(loads: Sequence[CaseLoads]) -> str:
    """How well the forces are in balance, in words."""
    force = max(each.force for one in loads for each in (one.residual, one.left_over))
    moment = max(each.moment for one in loads for each in (one.residual, one.left_over)) / 1000.0
    return (
        f"Checked part by part and for the whole: forces add up to nothing within {force:.0e} N, moments within "
        f"{moment:.0e} N·m."
    )


def weights_text(mechanism: Mechanism, units: Length) -> str:
    """What is under the wheels."""
    weights = mechanism.weights
    if weights is None:
        raise AssertionError("loads come from weights")
    under = [f"{units.weight_text(weights.under(wheel.side))} under the {wheel.name}" for wheel in mechanism.wheels]
    return f"{', '.join(under)}, of that {units.weight_text(weights.unsprung)} unsprung on each."
