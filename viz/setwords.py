"""What to do to each adjuster, in the words of a person under the car: how far, which way round, seen from where."""

from __future__ import annotations

import math

from model.adjust import Turned
from model.adjustable import Eccentric, Perch, Shims, Slide, Slot, Thread, Turning
from model.joints import STUD_KINDS, JointKind
from model.spatial import Array
from model.units import Length
from viz.words import MINUS

STAYS = "stays as it is"
# Where a direction points, positive and negative, by its largest component.
_WAYS = (("forward", "rearward"), ("to the left", "to the right"), ("up", "down"))
_SIDES = (("front", "rear"), ("left", "right"), ("top", "bottom"))
FLATS = 6
# Joints that can be turned about their bar until a bracket or a socket stops them.
SWINGING = {JointKind.ROD_END, *STUD_KINDS}
CLOCKWISE = {True: "clockwise", False: "anticlockwise"}


def do_text(turned: Turned, units: Length) -> str:
    """What to do to an adjuster for its rounded setting."""
    setting, text = turned.rounded, STAYS
    if setting == 0.0:
        return text
    match turned.adjuster:
        case Thread() as thread:
            text = _thread_text(thread, setting)
        case Perch() as perch:
            text = _perch_text(perch, setting)
        case Shims() as shims:
            text = f"{_stack_text(shims.stack(setting), units)}: moves it {_slide_text(shims, setting, units)}"
        case Slot(holes=None) as slot:
            text = f"slide it {_slide_text(slot, setting, units)}"
        case Slot(holes=float(holes)) as slot:
            text = f"{_counted(round(abs(setting) / holes), 'hole')} on: {_slide_text(slot, setting, units)}"
        case Eccentric() as eccentric:
            way = CLOCKWISE[eccentric.clockwise_along(setting)]
            degrees = math.degrees(abs(setting))
            text = f"turn its bolt {degrees:.0f}° {way}, seen from the {_seen_from(eccentric.axis)}"
    return text


def from_to(turned: Turned, units: Length) -> tuple[str, str]:
    """An adjuster's setting now and the new one: a link's length, a stack, a place in a slot, a spring's squeeze."""
    setting = turned.rounded
    match turned.adjuster:
        case Thread(length=length):
            return length_text(length, units), length_text(length + setting, units)
        case Perch(preload=preload):
            return length_text(preload, units), length_text(preload + setting, units)
        case Shims(fitted=fitted):
            return length_text(fitted, units), length_text(fitted + setting, units)
        case Eccentric():
            return "0°", signed_text(math.degrees(setting), 0, "°")
    return length_text(0.0, units), length_text(setting, units, signed=True)


def what_text(turned: Turned) -> str:
    """What the numbers of `from_to` are."""
    match turned.adjuster:
        case Thread():
            return "length"
        case Perch():
            return "spring squeezed when hanging"
        case Shims():
            return "stack"
        case Eccentric():
            return "turn"
    return "place"


def length_text(mm: float, units: Length, *, signed: bool = False, bare: bool = False) -> str:
    """A length as finely as it is set: tenths of a mm, thousandths of an inch."""
    value, digits = (mm, 1) if units is Length.MM else (mm / units.mm, 3)
    text = signed_text(value, digits) if signed else signed_text(value, digits).removeprefix("+")
    return text if bare else f"{text} {units}"


def signed_text(value: float, digits: int, unit: str = "") -> str:
    """A number with its sign; none before nothing."""
    value = round(value, digits)
    sign = "+" if value > 0.0 else MINUS if value < 0.0 else ""
    return f"{sign}{abs(value):.{digits}f}{unit}"


def turns_text(turns: float, step: float) -> str:
    """A number of turns: in flats of a nut where it is set so, otherwise in fractions."""
    count = abs(turns)
    flats = count * FLATS
    if (
        abs(flats - round(flats)) < 1e-6
        and math.isclose(step * FLATS, round(step * FLATS), abs_tol=1e-9)
        and step < 0.5
    ):
        whole, rest = divmod(round(flats), FLATS)
        parts = [_counted(whole, "turn")] * (whole > 0) + [_counted(rest, "flat")] * (rest > 0)
        return " and ".join(parts)
    quarters = round(4.0 * count)
    if abs(0.25 * quarters - count) > 1e-6:
        return f"{count:.2f} turn{'s' * (count > 1.0)}"
    whole, rest = divmod(quarters, 4)
    if rest == 0:
        return _counted(whole, "turn")
    return f"{whole or ''}{' ¼½¾'[rest]} turn{'s' * (count > 1.0)}"


def _counted(count: int, word: str) -> str:
    return f"{count} {word}{'s' * (count != 1)}"


def _thread_text(thread: Thread, setting: float) -> str:
    count, so = turns_text(thread.turns(setting), thread.step), "longer" if setting > 0.0 else "shorter"
    here = thread.end_words[thread.end]
    way = CLOCKWISE[thread.clockwise(setting, thread.end)]
    if thread.turning is Turning.BOTH:
        if not thread.hand_known:
            return f"turn the bar {count}, the way that makes it {so}"
        return f"turn the bar {count} {way}, seen from its {here} end (right-hand thread there): {so}"
    hand = f"{'left' if thread.left_hand else 'right'}-hand thread{'' if thread.hand_known else ', as most are'}"
    if thread.turning is Turning.BAR:
        return f"turn the bar {count} {way}, seen from its {here} end ({hand} there): {so}"
    inward = "out" if setting > 0.0 else "in"
    return f"unbolt the {here} end and screw it {inward} by {count}: {way}, seen from there ({hand}): {so}"


def nuts_text(thread: Thread, kinds: tuple[JointKind, JointKind]) -> str:
    """What to do to a link's jam nuts and joints, before and after it is turned; `kinds` are those at its two ends."""
    here, there = thread.end_words[thread.end], thread.end_words[1 - thread.end]
    own, other = kinds[thread.end], kinds[1 - thread.end]
    if thread.turning is Turning.BOTH:
        which = f"the one at its {there} end" if thread.hand_known else "one of them"
        loosen, nuts, turned = f"loosen both jam nuts first ({which} has a left-hand thread)", "nuts", [own, other]
    else:
        how = (
            "unbolt only that end" if thread.turning is Turning.END else f"the bar turns in the {other} at the {there}"
        )
        loosen, nuts, turned = f"loosen the jam nut at its {here} end first; {how}", "nut", [own]
    swing = [each for each in turned if each in SWINGING]
    if not swing:
        return f"{loosen}; bolt it up without a twist, then lock the {nuts}."
    if len(swing) == 1:
        return f"{loosen}; hold the {swing[0]} in the middle of its swing while you lock the {nuts}."
    both = f"both {own}s" if own == other else f"{own} and {other}"
    return f"{loosen}; hold {both} in the middle of their swing while you lock the {nuts}."


def _stack_text(stack: tuple[float, ...], units: Length) -> str:
    """What stack to make, such as "make the stack 3 + 2 × 0.8 mm"; sizes as finely as shims are sold."""
    counts = {f"{size / units.mm:.3g}": stack.count(size) for size in stack}
    pieces = [f"{count} × {size}" if count > 1 else size for size, count in counts.items()]
    return f"make the stack {' + '.join(pieces)} {units}" if pieces else "take all shims out"


def _perch_text(perch: Perch, setting: float) -> str:
    """The seat is a nut: on a right-hand thread, turned clockwise, it goes away from the eye behind it."""
    towards = setting > 0.0
    way, count = CLOCKWISE[towards != perch.left_hand], turns_text(perch.turns(setting), perch.step)
    hand = "left" if perch.left_hand else "right"
    return (
        f"turn the spring's seat {count} {'towards' if towards else 'away from'} the spring: {way}, looking from "
        f"behind the seat at the spring ({hand}-hand thread)"
    )


def _slide_text(slide: Slide, setting: float, units: Length) -> str:
    """How far and, roughly, which way."""
    axis = max(range(3), key=lambda number: abs(float(slide.direction[number])))
    positive = bool(slide.direction[axis] * setting > 0.0)
    if axis == 1 and slide.side is not None:
        way = "outward" if positive == (slide.side == "left") else "inward"
    else:
        way = _WAYS[axis][0 if positive else 1]
    return f"{length_text(abs(setting), units)} {way}"


def _seen_from(axis: Array) -> str:
    """Where one stands who looks along an axis, roughly."""
    number = max(range(3), key=lambda each: abs(float(axis[each])))
    return _SIDES[number][1 if axis[number] > 0.0 else 0]
