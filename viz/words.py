"""Numbers and findings in words, the same in every output."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from model.bumpstops import TOO_LATE
from model.cycles import Cycle
from model.jointmeasures import ROOM_TO_SPIN
from model.measures import GAP, Quantity
from model.units import Length, degrees_text
from model.verdicts import Finding, State

NOTHING, MINUS = "–", "\N{MINUS SIGN}"
# A limit in mm below which lengths are printed to a hundredth of a mm or a thousandth of an inch.
FINE = 1.0
# The runs of a cycle.
RUN_WORD = {
    Cycle.BOTH: "both wheels together",
    Cycle.CROSS: "crossed up",
    Cycle.LEFT: "left wheel",
    Cycle.RIGHT: "right wheel",
    Cycle.STEER: "lock to lock",
}


def quantity_text(quantity: Quantity, amount: float | None, length: Length, *, fine: bool = False) -> str:
    """An amount in rad, mm or rad/s² for a person; a dash where there is none. `fine`: lengths to one digit more."""
    if amount is None:
        return NOTHING
    if quantity is Quantity.ANGLE:
        text = degrees_text(math.degrees(amount))
    elif quantity is Quantity.ACCELERATION:
        text = f"{amount:.0f} rad/s²"
    else:
        text = length.fine_text(amount) if fine else length.text(amount)
    return text.replace("-", MINUS)


def used_text(finding: Finding, length: Length) -> str:
    """What a finding measures."""
    return quantity_text(finding.quantity, finding.used, length, fine=_is_fine(finding))


def _is_fine(finding: Finding) -> bool:
    """Whether a limit is so small that it wants one digit more."""
    return finding.limit is not None and abs(finding.limit) < FINE and finding.what != TOO_LATE


def limit_text(finding: Finding, length: Length) -> str:
    """A finding's limit, with a star where it is a typical one and a word where it is a floor."""
    if finding.limit is None:
        return NOTHING
    if finding.what == GAP and finding.limit == 0.0:
        return "no touching"
    if finding.what == TOO_LATE:
        return "in time"
    least = f"{'advised ' * finding.advice}{'at least ' * finding.at_least}"
    amount = quantity_text(finding.quantity, finding.limit, length, fine=_is_fine(finding))
    return f"{least}{amount}{'*' if finding.typical else ''}"


# What the word in a limit means, for every output that shows one.
ADVISED = "advised: past it is close, never over; it wears, hums or works badly, and still moves."


def keeps_clear(finding: Finding) -> bool:
    """Whether it is of two parts that stay apart where no more than that is wanted: a short account leaves them out."""
    return finding.what == GAP and finding.state is State.CLEAR and finding.limit == 0.0


def apart_text(findings: Sequence[Finding], length: Length, more: str = "; --json lists them all") -> str:
    """What is said of all pairs that `keeps_clear` leaves out, and how to see them; nothing where there are none."""
    apart = [finding for finding in findings if keeps_clear(finding)]
    if not apart:
        return ""
    nearest = min(apart, key=lambda finding: finding.used)
    return (
        f"{len(apart)} more pair{'s' * (len(apart) != 1)} of parts keep clear of each other, the nearest by "
        f"{used_text(nearest, length)}: {nearest.where}{more}."
    )


def margin_text(finding: Finding, length: Length) -> str:
    """What is left before the limit; negative where it is over."""
    return _told_from_none(finding, finding.margin, length)


def _told_from_none(finding: Finding, margin: float | None, length: Length) -> str:
    """A margin that would be printed as nothing is printed as less than the least that is shown."""
    text = quantity_text(finding.quantity, margin, length, fine=_is_fine(finding))
    if not margin or any(digit in text for digit in "123456789"):
        return text
    least = {Quantity.ANGLE: "0.1°", Quantity.ACCELERATION: "1 rad/s²"}.get(
        finding.quantity, "0.1 mm" if length is Length.MM else "0.01 in"
    )
    return f"{'over by ' if margin < 0 else ''}under {least}"


def what_text(finding: Finding) -> str:
    """What is measured; of a bar that no spin serves, that it binds."""
    binds = finding.what == ROOM_TO_SPIN and finding.state is State.OVER
    return f"binds: {finding.what}" if binds else finding.what


def finding_text(finding: Finding, length: Length) -> str:
    """One measure in words: "tilt 24.3° of 22.0°, typical limit"."""
    if finding.state is State.LOCKED:
        return "runs straight: the linkage locks here"
    return f"{what_text(finding)} {against_text(finding, length)}{', typical limit' * finding.typical}"


def against_text(finding: Finding, length: Length) -> str:
    """What a finding measures against its limit: "24.3° of 22.0°", "4.0 mm, at least 6.0 mm"."""
    used = used_text(finding, length)
    if finding.what == TOO_LATE:
        inside = "inside" if finding.state is State.OVER else "beyond"
        return f"by {used} of wheel travel, {inside} the travel asked for"
    # Where nothing but apart is wanted of two parts, there is no limit to tell.
    if finding.limit is None or (finding.what == GAP and finding.limit == 0.0):
        return used
    word = ", at least " if finding.at_least else ", advised " if finding.advice else " of "
    return f"{used}{word}{quantity_text(finding.quantity, finding.limit, length, fine=_is_fine(finding))}"


def left_text(finding: Finding, length: Length) -> str:
    """What is left before a limit, or how far past it a measure is, as a closing clause: only what is over is over."""
    if finding.margin is None or finding.state is State.LOCKED or finding.what == TOO_LATE:
        return ""
    size = _told_from_none(finding, abs(finding.margin), length)
    past = "over" if finding.state is State.OVER else "past it"
    return f", {size} {past if finding.margin < 0 else 'left'}"


# Heads the name of a left part and a right one that are told as one.
BOTH = "left and right"


def both_names(name: str) -> tuple[str, str] | None:
    """The names of something on the left and of the same on the right, by either: a part, a joint, two with a gap.

    `None` where it is on neither side, or on both.
    """
    found = set(_SIDE.findall(name))
    if len(found) != 1 or not name.startswith(tuple(found)):
        return None
    return _SIDE.sub("left", name), _SIDE.sub("right", name)


def both_of(name: str) -> str:
    """What is said of something on the left and the same on the right: "left and right rail – coilover spring"."""
    return f"{BOTH} {_WITH_SIDE.sub('', name)}"


_WITH_SIDE = re.compile(r"\b(left|right) ")
_SIDE = re.compile(r"\b(left|right)\b(?= )")
