"""What stands on every sheet whatever the scene: lines to write in, steps in order, where joints are tightened."""

from __future__ import annotations

from model.joints import JointKind

# Before anything that is past its limit, or locks.
STOP = (
    "Stop: something below is past its limit or locks. Set that right, measure again and print a new sheet before any "
    "final torque, and do not drive it."
)
WRITE_IN = (
    "date",
    "measured by",
    "odometer",
    "load aboard",
    "tyre pressures, front and rear",
    "level ground checked by",
)
RECHECK = ("re-checked on", "re-checked by", "odometer then")
RECHECK_WORDS = "50 to 100 miles (80 to 160 km)"

# Common practice, no source: what a tape held under a car is good to.
TAPE = (
    "With a tape under a car a length is good to ±2 to 3 mm (about 0.1 in; common practice): measure twice, and call "
    "two sides alike when they agree to within that. Eye to eye is from the middle of one bolt to the "
    "middle of the other."
)

# In an order in which nothing that was set is disturbed again.
_STEPS = (
    "Park on level ground, chock the wheels that stay down, lift, and set the frame on stands with blocks beside them.",
    "Take the load off the springs as their maker says before anything that holds them is undone.",
    "Fit every part with its nuts run fully on their threads and no torque on them yet; no bonded bush is tight, and "
    "nobody drives it like this.",
    "Before anything is final, cycle by hand: each wheel alone, both together, crossed; where it steers, lock to "
    "lock. Feel for tight spots, and watch hoses and shafts.",
    "Put springs and wheels back, the wheel nuts to the vehicle maker's torque, then the weight on the wheels, on "
    "level blocks or a drive-on lift, with the load and pressures written above. Rock it so that nothing is held by "
    "friction.",
    "Set the lengths below with the jam nuts slack, and measure both sides. A link that is threaded at one end only "
    "comes off its bolt for that: back on stands first.",
    "Clock the heads of each rod-ended bar: hold both in the middle of their swing, so that the bar rocks equally both "
    "ways.",
    "Hold each head and lock its jam nut. Look that enough thread is engaged.",
    "Tighten what may be tightened at any height, to the part maker's torque.",
    "Last, still at ride height with the weight on the wheels: tighten what is bonded to the part maker's torque.",
    "Back on stands, cycle it by hand once more, then mark every nut with paint.",
    f"After {RECHECK_WORDS} of driving, check every fastener again and tick the second box.",
)

# What only a scene with screwed-in heads, or with bonded bushes, has to do.
_OF_HEADS = ("Clock the heads", "Hold each head")
_OF_RUBBER = ("Last, still at ride height",)


def steps(*, heads: bool, rubber: bool) -> tuple[str, ...]:
    """What there is to do on a scene with or without screwed-in heads and bonded bushes."""
    left_out = _OF_HEADS * (not heads) + _OF_RUBBER * (not rubber)
    return tuple(step for step in _STEPS if not step.startswith(left_out))


# Whether a joint must be tightened at ride height, and why; common practice, no source.
WHEN = {
    JointKind.RUBBER_BUSH: ("yes, because bonded", "its rubber is at rest at the height at which it is tightened"),
    JointKind.POLY_BUSH: ("any height", "it turns on its sleeve"),
    JointKind.PLAIN_SLEEVE: ("any height", "it turns on its sleeve"),
    JointKind.ROD_END: ("any height", "its ball turns in its race"),
    JointKind.BALL_JOINT: ("any height", "its stud turns in its housing"),
    JointKind.INLINE_BALL_JOINT: ("any height", "its ball turns in its housing"),
    JointKind.STRUT_MOUNT: ("any height", "it tilts but is not wound up by the travel"),
    JointKind.UNIVERSAL_JOINT: ("any height", "its cross turns in bearings"),
    JointKind.CONSTANT_VELOCITY_JOINT: ("any height", "it turns on its balls"),
}
