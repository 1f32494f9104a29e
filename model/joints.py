"""The `[joint]` tables of a scene file: kinds, limits, rates and fasteners as the part maker gives them."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Any, Self

from pydantic import AfterValidator, Field, PlainValidator, WithJsonSchema, model_validator

from model.fields import LARGEST, LimitAngle, LimitTurn, Positive, Table, Text, is_number, refuse


class JointKind(StrEnum):
    """What sits at the end of a part."""

    ROD_END = "rod end"
    BALL_JOINT = "ball joint"
    INLINE_BALL_JOINT = "inline ball joint"
    RUBBER_BUSH = "rubber bush"
    POLY_BUSH = "poly bush"
    PLAIN_SLEEVE = "plain sleeve"
    STRUT_MOUNT = "strut mount"
    UNIVERSAL_JOINT = "universal joint"
    CONSTANT_VELOCITY_JOINT = "constant-velocity joint"


SHAFT_KINDS = frozenset({JointKind.UNIVERSAL_JOINT, JointKind.CONSTANT_VELOCITY_JOINT})
BUSH_KINDS = frozenset({JointKind.RUBBER_BUSH, JointKind.POLY_BUSH, JointKind.PLAIN_SLEEVE})
# Those of them that give: metal in metal does not.
GIVING_KINDS = frozenset({JointKind.RUBBER_BUSH, JointKind.POLY_BUSH})
STUD_KINDS = frozenset({JointKind.BALL_JOINT, JointKind.INLINE_BALL_JOINT})


class Spacers(StrEnum):
    """What stands between a rod end's ball and its bracket; it decides the typical limit."""

    NONE = "none"
    PLAIN = "plain"
    HIGH_MISALIGNMENT = "high-misalignment"


def _torqued_at(value: Any) -> str | float:
    if value in ("ride", "droop", "bump") and isinstance(value, str):
        return value
    if is_number(value) and abs(value) <= LARGEST:
        return float(value)
    raise ValueError('expected "ride", "droop", "bump" or a height of the wheel above ride height')


TorquedAt = Annotated[
    str | float,
    PlainValidator(_torqued_at),
    WithJsonSchema({"anyOf": [{"enum": ["ride", "droop", "bump"]}, {"type": "number"}]}),
]


class Hardware(Table):
    """What a rod end is made of and sits in: its largest tilt follows from these sizes."""

    head_width: Positive = Field(description="of the head, along the bolt")
    head_diameter: Positive | None = None
    clevis_width: Positive | None = Field(None, description="between the faces of the bracket: ball and spacers")
    ball_diameter: Positive | None = None
    spacer_diameter: Positive | None = Field(None, description="of the spacers where they meet the ball")
    bolt_diameter: Positive | None = Field(None, description="of the bolt, where there are no spacers")

    @model_validator(mode="after")
    def _enough(self) -> Self:
        in_bracket = None not in (self.clevis_width, self.head_diameter)
        on_ball = self.ball_diameter is not None and (self.spacer_diameter or self.bolt_diameter) is not None
        if not in_bracket and not on_ball:
            raise ValueError(
                "needs clevis_width with head_diameter, or ball_diameter with spacer_diameter or bolt_diameter; "
                "add one of these pairs."
            )
        return self


# A solid bar of steel is some 1e6 N/mm; more is no joint.
STIFFEST = 1e7
# Softer than any rubber by far, N/mm or N·m for a degree: a slip of the keyboard that would pass for no spring at all.
SOFTEST = 1e-3


def _joint_rate(value: float) -> float:
    if 0.0 < value < SOFTEST:
        raise ValueError(f"expected {SOFTEST:g} or more, or 0 where it does not resist")
    return value


JointRate = Annotated[float, Field(ge=0, le=STIFFEST, allow_inf_nan=False), AfterValidator(_joint_rate)]


class BushRates(Table):
    """How stiff a bush is; what it is in each way, from its maker's sheet or a bench."""

    radial: JointRate | None = Field(None, description="square to the bolt: N/mm or lbf/in")
    axial: JointRate | None = Field(None, description="along the bolt: N/mm or lbf/in")
    turn: JointRate | None = Field(None, description="about the bolt: N·m or lbf·ft for a degree")
    cock: JointRate | None = Field(None, description="across the bolt: N·m or lbf·ft for a degree")


# The keys of a [joint] table beside kind and source: those that mean something for its kind.
_KEYS_OF_KIND = {
    JointKind.ROD_END: ("tilt", "spacers", "hardware", "rates", "thread_diameter", "jam_nut", "jam_nut_torque"),
    JointKind.BALL_JOINT: ("swing", "rates", "thread_diameter", "jam_nut", "jam_nut_torque"),
    JointKind.INLINE_BALL_JOINT: ("swing", "rates", "thread_diameter", "jam_nut", "jam_nut_torque"),
    JointKind.RUBBER_BUSH: ("cock", "turn", "torqued_at", "rates"),
    JointKind.POLY_BUSH: ("cock", "rates"),
    JointKind.PLAIN_SLEEVE: ("cock", "rates"),
    JointKind.STRUT_MOUNT: ("tilt",),
    JointKind.UNIVERSAL_JOINT: ("swing",),
    JointKind.CONSTANT_VELOCITY_JOINT: ("swing",),
}


_LIMIT_KEYS = ("tilt", "swing", "cock", "turn", "spacers")
_LIMITED_TO_KINDS = tuple(dict.fromkeys([*_LIMIT_KEYS, *(key for keys in _KEYS_OF_KIND.values() for key in keys)]))


def _use_instead(joint: Joint, own: tuple[str, ...]) -> str:
    """What to say of a key that does nothing: the joint's own limits where the key is a limit of another kind."""
    limits = [key for key in _LIMIT_KEYS if key in joint.model_fields_set and key not in own]
    ours = " and ".join(key for key in own if key in _LIMIT_KEYS)
    return f"use {ours}" if limits else "check its kind"


class Joint(Table):
    """A kind of joint with its limits and where they come from; a limit left out falls back to a typical one."""

    kind: Annotated[JointKind, Field(strict=False)]
    tilt: LimitAngle | None = Field(None, description="rod end, strut mount: largest tilt either way, degrees")
    swing: LimitAngle | None = Field(
        None, description="ball joints, shaft joints: largest swing from the middle, degrees"
    )
    cock: LimitAngle | None = Field(None, description="bushes and sleeves: largest cocking across the bolt, degrees")
    turn: LimitTurn | None = Field(None, description="rubber bush: largest wind-up either way, degrees")
    spacers: Annotated[Spacers | None, Field(strict=False)] = Field(
        None, description="rod end: spacers beside the ball; they choose the typical limit"
    )
    hardware: Hardware | None = Field(None, description="rod end: sizes from which its tilt follows, instead of tilt")
    torqued_at: TorquedAt | None = Field(
        None, description='rubber bush: where its bolt was tightened: "ride", "droop", "bump" or a wheel height'
    )
    rates: BushRates | None = Field(None, description="how stiff the joint is, where its give matters")
    source: Text | None = Field(None, description="where the limits come from, such as the maker's sheet and its date")
    fastener: Text | None = Field(None, description="the bolt or nut, such as its size and grade")
    torque: Text | None = Field(None, description="tightening torque, in the words of the part maker's sheet")
    torque_source: Text | None = Field(None, description="the sheet that the torque is from")
    thread_diameter: Positive | None = Field(None, description="of the thread by which the joint is screwed into a bar")
    jam_nut: Text | None = Field(None, description="size and hand of the jam nut")
    jam_nut_torque: Text | None = Field(None, description="its torque, in the words of the part maker's sheet")

    @model_validator(mode="after")
    def _belongs(self) -> Self:
        own = _KEYS_OF_KIND[self.kind]
        refuse(
            self,
            [key for key in _LIMITED_TO_KINDS if key not in own],
            f"a {self.kind} does not have",
            _use_instead(self, own),
        )
        if self.tilt is not None and self.hardware is not None:
            raise ValueError("has a tilt beside hardware, from which the tilt follows; keep one of them.")
        return self
