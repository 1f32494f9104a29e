"""What forces in a load case mean, in words that a person under the car understands."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from model.forces import CaseLoads, CoiloverLoad
from model.mechanism import LoadCase, Mechanism
from model.naming import SIDES
from model.units import Length, degrees_text
from viz.words import MINUS, NOTHING

Said = Callable[[float], str]

FOR_COMPARISON = "Forces are for comparison, not a strength check: a licensed engineer does that."
SHORT_NOTE = "for comparison, not a strength check"
TYPICAL = "Typical cases, common practice, no source: write your own as [case.NAME] in the scene."
NO_TRANSFER = "Typical braking and driving shift no load from one axle to the other."
OWN_ROLL = (
    "The typical turn takes half of the inner wheel's load over to the outer one, as if the centre of gravity were 0.4 "
    "of the track high and this axle alone, on its own springs and anti-roll bar, held up its share of the roll."
)
WHOLE_CAR = "What goes over in the whole car, fulltravel vehicle tells from a vehicle file."
HOW_FAR = 'Write the case with at = "settled" to see where springs and anti-roll bar hold it.'
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
# N, and N·m: what is left over, from what is below it on.
NEARLY = ((1e-6, "a millionth of a"), (1e-3, "a thousandth of a"), (1.0, "a"))
# mm: nearer to ride height is at ride height.
LEAST_HEIGHT = 0.05


def notes_on(loads: Sequence[CaseLoads]) -> list[str]:
    """What has to be known of some cases of one scene."""
    mechanism = loads[0].poses.mechanism
    carried = any(wheel.driven and wheel.drive_on_carrier for wheel in mechanism.wheels)
    notes = [*_typical_notes([each.case for each in loads if each.case.typical]), METHOD]
    notes += [BUSHES] * bool(mechanism.bushings)
    notes += [SHAFT_TORQUE] * (carried and any(each.case.drive for each in loads))
    notes += [BAR_UNKNOWN] * any(not bar.known for each in loads for bar in each.bars)
    return notes


def _typical_notes(cases: Sequence[LoadCase]) -> list[str]:
    """What typical cases leave out."""
    along, side = any(case.brake or case.drive for case in cases), any(case.side for case in cases)
    told = ((TYPICAL, bool(cases)), (NO_TRANSFER, along), (OWN_ROLL, side), (WHOLE_CAR, along or side))
    return [note for note, applies in told if applies]


def forces_said(newtons: Iterable[float], units: Length) -> Said:
    """How all the forces (N) of one row are said: in one unit, which the largest of them chooses."""
    in_kilo = units.force_text(max((abs(newton) for newton in newtons), default=0.0)).endswith("kN")

    def said(newton: float) -> str:
        text = f"{newton / 1000.0:.2f} kN" if in_kilo else units.force_text(newton)
        return text.lstrip("-") if is_nothing(text) else text.replace("-", MINUS)

    return said


def is_nothing(text: str) -> bool:
    """Whether all digits of an amount that is printed are 0."""
    return not any(digit in text for digit in "123456789")


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


def axial_text(force: float, said: Said) -> str:
    """A force along a link, and which way it goes."""
    text = said(abs(force))
    return text if is_nothing(text) else f"{text} {'pull' if force > 0.0 else 'push'}"


def coilover_text(coilover: CoiloverLoad, loads: CaseLoads, said: Said) -> str:
    """What the difference between the force that a case needs and the one that the spring gives comes to."""
    if coilover.given is None:
        return "no spring in the scene to hold it"
    if coilover.needed < 0.0:
        return "it would have to pull, which no spring does: that wheel goes down until it hangs"
    more = coilover.needed - coilover.given
    if abs(more) <= ALIKE * max(coilover.needed, coilover.given):
        return "its spring holds that"
    return _difference_text(more, _end_of_travel(coilover, loads), said)


def _difference_text(more: float, place: str | None, said: Said) -> str:
    """What takes what a spring lacks, or gives too much where `more` (N) is below 0."""
    other = said(abs(more))
    if more > 0.0 and place == "bump":
        return f"bump stop and tyre take the other {other}"
    if more > 0.0:
        return f"the spring lacks {other}: it goes in until it has that, or a stop takes the rest"
    if place == "droop":
        return f"strap or damper hold back the other {other} of the spring"
    return f"the spring pushes {other} more than that: it goes out until it has no more"


def _end_of_travel(coilover: CoiloverLoad, loads: CaseLoads) -> str | None:
    """Whether the wheel on a coilover's side, either one for a coilover in the middle, stands at full bump or droop."""
    ends = set()
    for drive, height in zip(loads.poses.mechanism.drives, loads.poses.travel.values[0], strict=True):
        if drive.name in SIDES and not coilover.name.startswith(tuple(set(SIDES) - {drive.name})):
            ends |= {"bump"} if height >= AT_END * drive.high else {"droop"} if height <= AT_END * drive.low else set()
    return next(iter(ends)) if len(ends) == 1 else None


def other_texts(loads: CaseLoads, units: Length, said: Said) -> dict[str, str]:
    """What the steering holds, what twists anti-roll bars and what bends links, by what it is."""
    steering, told = loads.steering, {}
    if steering is not None and abs(steering.force) >= LEAST_HELD:
        size = abs(steering.force)
        text = units.moment_text(size) if steering.turns else said(size)
        told[f"{steering.part}, held by the steering gear"] = text
    for bar in loads.bars:
        twist = float(np.degrees(abs(bar.twist)))
        if bar.known and twist >= LEAST_TWIST:
            told[f"{bar.name}, twisted"] = f"{units.moment_text(abs(bar.moment))}, {degrees_text(twist)}"
    for link in loads.links:
        if link.bending >= LEAST_BENT:
            told[f"{link.name}, bent where its coilover sits"] = units.moment_text(link.bending)
    return told


def rest_text(loads: Sequence[CaseLoads]) -> str:
    """How well the forces are in balance, in words; a balance that fails is refused before it comes here."""
    most = max(each.size for one in loads for each in (one.residual, one.left_over))
    near = next((words for limit, words in NEARLY if most < limit), f"{most:.1f}")
    return (
        f"Checked part by part and for the whole: forces add up to nothing within {near} N, moments within {near} N·m."
    )


def weights_text(mechanism: Mechanism, units: Length) -> str:
    """What is under the wheels."""
    weights = mechanism.weights
    if weights is None:
        raise AssertionError("loads come from weights")
    under = [f"{units.weight_text(weights.under(wheel.side))} under the {wheel.name}" for wheel in mechanism.wheels]
    return f"{', '.join(under)}, of that {units.weight_text(weights.unsprung)} unsprung on each."
