"""A whole car in words: tables with what each number means for how it rides, leans and stops."""

from __future__ import annotations

import math
from collections.abc import Callable

from rich.console import Group
from rich.text import Text

from model.limits import FREQUENCY_RATIO, RIDE_FREQUENCY, TypicalSpan
from model.units import Length
from model.vehicle import WholeCar
from model.wholecar import LoadTransfer
from viz.cautions import CAUTIONS
from viz.report import section_parts
from viz.tables import Section, TextTable
from viz.words import NOTHING

HEADS = ("", "front", "rear", "what it means")
TYPICAL_NOTE = "* typical of road cars: common practice, no source; a car outside it is unusual, not wrong."
AT_RIDE = (
    "All of it at ride height, for small motions: rigid links, springs and bars; no bushes, dampers or bump stops, and "
    "tyres only where both scenes give their rate."
)
# What is said of roll holds near ride height; where the body leans more than this for each g, degrees, it is told.
FAR = 8.0
FAR_NOTE = (
    "This much lean leaves ride height behind: springs, bump stops and bushes will then say more than these numbers."
)


ROLL_GRADIENT = TypicalSpan(
    (3.0, 7.0), ("leans little", "leans as road cars do", "leans a lot: look at bars, springs, travel")
)
# Dry tyres of road cars hold some 0.8 to 1.0 g.
TIPPING = TypicalSpan(
    (1.0, 1.2),
    (
        "DANGER: before dry tyres let go*; it can roll over in a swerve",
        "hardly more than dry tyres hold*; a kerb or a rut can roll it over",
        "more than ordinary tyres hold*",
    ),
)
FRONT_EXTRA = TypicalSpan(
    (0.0, 10.0),
    (
        "the rear tyres are worked harder than their share: it tends to turn in by itself (oversteer)",
        "the front tyres are worked a little harder: it tends to push wide (understeer)",
        "the front tyres are worked much harder: it pushes wide (understeer)",
    ),
)
# Links that hold less of the moved load than this share do next to nothing of what springs have to do.
LEAST_HELD = 0.05
HARDLY = "the links hold next to nothing, the springs do"
ANTI_DIVE = TypicalSpan(
    (0.0, 50.0),
    (
        "its own links pull the nose down",
        "the links hold part of the nose up",
        "the links hold so much that the front stiffens under braking; over 100 % the nose rises",
    ),
)
ANTI_LIFT = TypicalSpan(
    (0.0, 100.0), ("its own links push the tail up", "the links hold part of the tail down", "the tail goes down")
)
ANTI_SQUAT = TypicalSpan(
    (0.0, 100.0),
    (
        "its own links pull the tail down under power",
        "the links hold part of the tail up under power",
        "the tail rises under power; watch for wheel hop",
    ),
)
FRONT_LIFT = TypicalSpan(
    (0.0, 100.0),
    ("its own links let the nose rise more", "the links hold part of the nose down", "the nose goes down"),
)


def vehicle_tables(car: WholeCar, units: Length) -> Group:
    """Everything there is to say of a car, for the screen."""
    section = Section(car.vehicle.title, (ride_table(car, units), roll_table(car, units), pitch_table(car, units)))
    return Group(
        *section_parts(section),
        Text(TYPICAL_NOTE, "dim"),
        Text(AT_RIDE, "dim"),
        Text(CAUTIONS[0], "dim"),
        Text(CAUTIONS[-1], "dim"),
    )


def ride_table(car: WholeCar, units: Length) -> TextTable:
    """How it bounces."""
    front, rear = car.front.at_ride, car.rear.at_ride
    ratio = car.frequency_ratio
    rows = (
        (
            "on the wheels",
            units.weight_text(front.weight),
            units.weight_text(rear.weight),
            f"{percent(car.front_share)} of {units.weight_text(car.weight)} in front",
        ),
        (
            "of that unsprung",
            units.weight_text(front.unsprung),
            units.weight_text(rear.unsprung),
            "the lighter, the better the tyres follow the road",
        ),
        (
            "wheel rate, each wheel",
            units.rate_text(front.wheel_rate),
            units.rate_text(rear.wheel_rate),
            "how stiff the spring is at the wheel",
        ),
        (
            "ride frequency",
            f"{car.front.frequency:.2f} Hz",
            f"{car.rear.frequency:.2f} Hz",
            _both(RIDE_FREQUENCY, car.front.frequency, car.rear.frequency, "1.0 to 2.0 Hz"),
        ),
        ("rear over front", "", f"{ratio:.2f}", f"{FREQUENCY_RATIO.word(ratio)} (1.0 to 1.25*)"),
    )
    return TextTable("Ride, how it bounces", HEADS, rows)


def roll_table(car: WholeCar, units: Length) -> TextTable:
    """How it leans in a corner."""
    front, rear, roll = car.front.at_ride, car.rear.at_ride, car.rolling

    def stiffness(newton_mm: float) -> str:
        """A moment for a turn, from N·mm/rad."""
        return f"{units.moment_text(math.radians(newton_mm))}/°" if newton_mm else "none"

    rows = [
        (
            "roll centre over the road",
            units.text(front.roll_centre),
            units.text(rear.roll_centre),
            "the body begins to roll about the line through both",
        ),
        ("roll stiffness, springs", stiffness(front.springs), stiffness(rear.springs), "without what bushes add"),
        ("roll stiffness, bar", stiffness(front.bar), stiffness(rear.bar), "acts only where the wheels differ"),
    ]
    if roll is None:
        rows.append(("leans", NOTHING, NOTHING, "nothing holds it up in roll: it falls over on these springs"))
        return TextTable("Roll, how it leans in a corner", HEADS, tuple(rows))
    lean = math.degrees(roll.gradient)
    extra = 100.0 * car.front_extra

    def transfer(what: str, one: Callable[[LoadTransfer], float], words: str) -> tuple[str, str, str, str]:
        return what, units.weight_text(one(roll.front)), units.weight_text(one(roll.rear)), words

    rows += [
        (
            "share of the roll stiffness",
            percent(roll.front_share),
            percent(1.0 - roll.front_share),
            "the stiffer end takes more of the load transfer",
        ),
        (
            "body over the roll axis",
            units.text(roll.arm),
            "",
            f"the lever it leans with; the axis {_slope(roll.axis)}",
        ),
        ("leans for each g", f"{lean:.1f}°", "", f"{ROLL_GRADIENT.word(lean)} (3 to 7°*)"),
        transfer("to the outer wheel, for each g", lambda one: one.total, lift_words(car)),
        transfer("of that through the links", lambda one: one.through_roll_centre, "at once, without leaning"),
        transfer("of that through springs and bar", lambda one: one.through_springs, "as the body leans"),
        ("tips over at", f"{car.tips_at:.2f} g", "", TIPPING.word(car.tips_at)),
        (
            "share of the load transfer",
            percent(roll.front_transfer_share),
            percent(1.0 - roll.front_transfer_share),
            f"{FRONT_EXTRA.word(extra)} ({_signed(extra)} points over the weight's share; 0 to +10*)",
        ),
    ]
    return TextTable("Roll, how it leans in a corner", HEADS, tuple(rows), FAR_NOTE if lean > FAR else "")


def pitch_table(car: WholeCar, units: Length) -> TextTable:
    """What the links do under braking and driving."""
    front, rear = car.front, car.rear
    rows = [
        (
            "moved forward, for each g of braking",
            f"+{units.weight_text(car.transfer)}",
            f"−{units.weight_text(car.transfer)}",
            "from the rear to the front wheels, whatever the links do",
        ),
        (
            "anti-dive (front), anti-lift (rear), braking",
            percent(front.anti_brake),
            percent(rear.anti_brake),
            f"{_held(ANTI_DIVE, front.anti_brake)} (0 to 50 %*); {_held(ANTI_LIFT, rear.anti_brake)} (0 to 100 %*)",
        ),
    ]
    for axle, what, typical in (
        (front, "anti-lift (front), driving", FRONT_LIFT),
        (rear, "anti-squat (rear), driving", ANTI_SQUAT),
    ):
        if axle.anti_drive is not None:
            share = percent(axle.anti_drive)
            cells = (share, "") if axle is front else ("", share)
            rows.append((what, *cells, f"{_held(typical, axle.anti_drive)} (0 to 100 %*)"))
    return TextTable("Pitch, what the links do under braking and driving", HEADS, tuple(rows))


def lift_words(car: WholeCar) -> str:
    """At which sideways acceleration the first inner wheel leaves the road."""
    front, rear = car.lifts
    which = "front" if front < rear else "rear"
    return f"the inner {which} wheel lifts first, at {min(front, rear):.1f} g if the tyres hold so much"


def _held(typical: TypicalSpan, share: float) -> str:
    """The reading of what links hold of the moved load, a share of it."""
    return HARDLY if abs(share) < LEAST_HELD else typical.word(100.0 * share)


def _both(typical: TypicalSpan, front: float, rear: float, span: str) -> str:
    """The reading of both ends, once where it is the same."""
    one, other = typical.word(front), typical.word(rear)
    return f"{one} ({span}*)" if one == other else f"front: {one}; rear: {other} ({span}*)"


def percent(share: float) -> str:
    """A share for a person."""
    return f"{100.0 * share:.0f} %".replace("-", "−")


def _signed(points: float) -> str:
    return f"{points:+.0f}".replace("-", "−")


def _slope(radians: float) -> str:
    if abs(radians) < math.radians(0.05):
        return "lies level"
    return f"{'rises' if radians > 0.0 else 'falls'} {abs(math.degrees(radians)):.1f}° to the rear"
