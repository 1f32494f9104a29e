"""What stands on every sheet whatever the scene: lines to write in, steps in order, where joints are tightened."""

from __future__ import annotations

from model.joints import JointKind

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
STEPS = (
    "Park on level ground, chock the wheels that stay down, lift, and set the frame on stands with blocks beside them.",
    "Take the load off the springs as their maker says before anything that holds them is undone.",
    "Fit every part with its fasteners in but loose; no bonded bush is tight yet.",
    "Before anything is final, cycle by hand: each wheel alone, both together, crossed; where it steers, lock to "
    "lock. Feel for tight spots, and watch hoses, shafts and whatever is named above.",
    "Put springs and wheels back, then the weight on the wheels, on level blocks or a drive-on lift, with the load "
    "and tyre pressures written above. Rock it so that nothing is held by friction.",
    "Set the lengths below with the jam nuts slack, and measure both sides.",
    "Clock the heads of each rod-ended bar: hold both in the middle of their swing, so that the bar rocks equally both "
    "ways.",
    "Hold each head and lock its jam nut. Look that enough thread is engaged.",
    "Tighten what may be tightened at any height, to the part maker's torque.",
    "Last, still at ride height with the weight on the wheels: tighten what is bonded to the part maker's torque.",
    "Back on stands, cycle it by hand once more, then mark every nut with paint.",
    f"After {RECHECK_WORDS} of driving, check every fastener again and tick the second box.",
)

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
TORQUED_AT = {"droop": "at full droop", "bump": "at full bump"}

MOMENTS = (
    "Moments in the tables below are what rubber or a linkage carries, worked out from the scene; none of them is a "
    "torque to tighten anything to."
)
