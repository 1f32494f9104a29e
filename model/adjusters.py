"""What can be adjusted on a suspension, as the scene file says it.

What differs between the two sides of a mirrored adjuster once it has been set is written as [left, right].
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from model.fields import DirectionValue, Positive, Reference, SidedAway, SidedLength, SidedTurn, Table, refuse

# What each kind of adjuster needs, and what it may have besides.
NEEDED = {
    "thread": ("of", "ends"),
    "shims": ("points", "direction", "sizes", "most"),
    "slot": ("points", "direction", "low", "high"),
    "eccentric": ("points", "direction", "axis", "throw"),
    "perch": ("of", "pitch", "low", "high"),
}
ALLOWED = {
    "thread": ("pitch", "threads_per_inch", "end", "left_hand", "turns", "shorter", "longer"),
    "shims": ("fitted",),
    "slot": ("holes",),
    "eccentric": ("degrees", "turned"),
    "perch": ("left_hand", "turns"),
}


class Adjuster(Table):
    """One adjuster, and how far it goes from where it stands; with `mirror` one on each side."""

    kind: Literal["thread", "shims", "slot", "eccentric", "perch"] = Field(
        description="thread: a link that its threads make longer or shorter; shims, slot: points on the frame that "
        "move along a direction; eccentric: points that go round the hole of a bolt; perch: the seat of a spring"
    )
    of: Reference | None = Field(None, description="thread: the link; perch: the coilover or strut")
    points: Annotated[list[Reference], Field(min_length=1, max_length=12)] | None = Field(
        None, description="shims, slot, eccentric: points on the frame that move alike"
    )
    direction: DirectionValue | None = Field(
        None,
        description="shims: which way a thicker stack moves the points; slot: along it; eccentric: where it points, "
        "from the middle of its hole to the points",
    )
    pitch: Positive | None = Field(None, description="thread, perch: how far its thread goes in one turn")
    threads_per_inch: Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)] | None = Field(
        None, description="thread: instead of pitch"
    )
    ends: Literal["one", "both", "bar"] | None = Field(
        None,
        description='thread: "one": one end is unbolted and turned; "both": threads of both hands, the bar is turned; '
        '"bar": the bar is turned on the thread of one end, and turns in its other joint',
    )
    end: Literal["from", "to"] = Field("to", description='thread with ends = "one" or "bar": the end with the thread')
    left_hand: Literal["from", "to", "none", "perch"] | None = Field(
        None, description='which thread is left-handed: "from", "to" or "none"; of a perch "perch" or "none"'
    )
    turns: Annotated[float, Field(gt=0, le=10, allow_inf_nan=False)] | None = Field(
        None,
        description="thread, perch: least turn it is set to; left out: half a turn, a sixth (a flat of the nut) where "
        "a bar is turned",
    )
    shorter: SidedLength | None = Field(None, description="thread: how much shorter than now the link can get")
    longer: SidedLength | None = Field(
        None, description="thread: how much longer; left out: until a thread is engaged by its diameter only"
    )
    sizes: Annotated[list[Positive], Field(min_length=1, max_length=12)] | None = Field(
        None, description="shims: thicknesses to be had"
    )
    fitted: SidedLength = Field(
        0.0, description="shims: thickness of the stack now; [left, right] where the two sides differ"
    )
    most: Positive | None = Field(None, description="shims: thickest stack that the bolts allow")
    low: SidedAway | None = Field(
        None, description="slot: how far the points can go against the direction; perch: the seat away from the spring"
    )
    high: SidedLength | None = Field(None, description="slot: along the direction; perch: towards the spring")
    holes: Positive | None = Field(None, description="slot: from hole to hole; left out: anywhere along it")
    axis: DirectionValue | None = Field(None, description="eccentric: direction of the bolt that is turned")
    throw: Positive | None = Field(
        None, description="eccentric: from the middle of the hole to the middle of the eccentric"
    )
    degrees: Annotated[float, Field(gt=0, le=90, allow_inf_nan=False)] = Field(
        5.0, description="eccentric: from mark to mark; left out: 5, what an eye can set"
    )
    turned: SidedTurn = Field(
        0.0,
        description="eccentric: degrees by which it is turned from its direction now, positive as a right-hand screw "
        "along axis; on the right its mirror image",
    )
    mirror: bool = False

    @model_validator(mode="after")
    def _belongs(self) -> Self:
        needed, allowed = NEEDED[self.kind], ALLOWED[self.kind]
        missing = [key for key in needed if getattr(self, key) is None]
        if missing:
            raise ValueError(f"is of kind {self.kind} and has no {' and no '.join(missing)}; add it.")
        others = [key for key in type(self).model_fields if key not in {"kind", "mirror", *needed, *allowed}]
        refuse(self, others, f"no adjuster of kind {self.kind} has", "correct its kind")
        if self.kind == "thread":
            self._check_thread()
        elif self.left_hand in ("from", "to"):
            raise ValueError(f'has left_hand = "{self.left_hand}", expected "perch" or "none"; correct it.')
        if self.kind == "slot" and self.low == self.high:
            raise ValueError("has low and high both zero, so that it cannot move; give the ends of the slot.")
        return self

    def _check_thread(self) -> None:
        """Complain of keys of a thread that do not go together."""
        if (self.pitch is None) == (self.threads_per_inch is None):
            raise ValueError("needs either pitch or threads_per_inch; give one of them.")
        if self.ends == "both" and "end" in self.model_fields_set:
            raise ValueError('has end, which a bar with ends = "both" has not; take it out.')
        if self.left_hand == "perch" or (self.ends == "both" and self.left_hand == "none"):
            expected = '"from" or "to"' if self.ends == "both" else '"from", "to" or "none"'
            raise ValueError(f'has left_hand = "{self.left_hand}", expected {expected}; correct it.')
