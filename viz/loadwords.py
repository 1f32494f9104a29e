"""What forces in a load case mean, in words that a person under the car understands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from model.forces import CaseLoads, CoiloverLoad
from model.mechanism import LoadCase, Mechanism
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
# At least this share of the way to full bump the bump stop is at work (common practice, no source).
AT_BUMP = 0.9
# N at a rack or N·mm at a pitman arm, and degrees of a bar: less is printed as nothing.
LEAST_HELD, LEAST_TWIST = 0.5, 0.05


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
    if at == 0.0:
        return "ride height"
    return f"{units.text(abs(at))} {'up' if at > 0.0 else 'down'}"


def stands_text(case: LoadCase, units: Length) -> str:
    """Where both wheels stand."""
    left, right = (height_text(at, units) for at in case.at)
    return left if left == right else f"left {left}, right {right}"


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
    way = units.text(abs(more) / coilover.rate)
    if more > 0.0 and _near_bump(loads):
        return f"bump stop and tyre take the other {units.force_text(more)}"
    if more > 0.0:
        return f"the spring lacks {units.force_text(more)}: it goes in {way} more, or a stop takes the rest"
    return f"the spring pushes {units.force_text(-more)} more than that: it goes out {way} from here"


def _near_bump(loads: CaseLoads) -> bool:
    drives = [drive for drive in loads.poses.mechanism.drives if drive.name != "steer"]
    heights = loads.poses.travel.values[0]
    return any(heights[loads.poses.mechanism.drive_number(drive.name)] >= AT_BUMP * drive.high for drive in drives)


def steering_words(loads: CaseLoads, units: Length) -> str | None:
    """What the steering has to hold."""
    if loads.steering is None:
        return None
    size = abs(loads.steering.force)
    if size < LEAST_HELD:
        return None
    text = units.moment_text(size) if loads.steering.turns else units.force_text(size)
    return f"{text} at the {loads.steering.part}"


def bar_words(loads: CaseLoads, units: Length) -> list[str]:
    """What each anti-roll bar has in it."""
    return [
        f"{bar.name}: twisted {degrees_text(float(np.degrees(abs(bar.twist))))}, {units.moment_text(abs(bar.moment))}"
        for bar in loads.bars
        if bar.known and np.degrees(abs(bar.twist)) >= LEAST_TWIST
    ]


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
