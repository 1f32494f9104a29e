"""The scene file as typed records: what a person writes, in the person's own units.

These records hold and name; `model.reading` turns a file into them and says what is wrong with it,
`model.assembly` turns them into a mechanism in mm, N and rad.
"""

from __future__ import annotations

import math
import unicodedata
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema, model_validator

from model.units import Length

NAME_LENGTH = 60  # longer names do not fit a table or a label
TEXT_LENGTH = 200
# No vehicle is 100 m (or, in inches, 2.5 km) long; a slip of the keyboard would come back as rounding error.
LARGEST = 1e5
# A direction shorter than this has lost its digits.
SHORTEST = 1e-6


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _three_numbers(value: Any) -> tuple[float, float, float]:
    if not isinstance(value, list) or not all(_is_number(entry) for entry in value):
        raise ValueError("expected three numbers in brackets, [x, y, z]")
    if len(value) != 3:
        raise ValueError(f"has {len(value)} number{'' if len(value) == 1 else 's'}, expected three, [x, y, z]")
    if not all(abs(entry) <= LARGEST for entry in value):  # false for NaN too
        raise ValueError(f"holds a number that is not between -{LARGEST:.0f} and {LARGEST:.0f}")
    return (float(value[0]), float(value[1]), float(value[2]))


def _direction(value: Any) -> Direction:
    if isinstance(value, str) and value in WORDS:
        return value
    if isinstance(value, list) and len(value) == 2 and all(isinstance(entry, str) for entry in value):
        return (_name(value[0]), _name(value[1]))
    if isinstance(value, list) and value and all(_is_number(entry) for entry in value):
        vector = _three_numbers(value)
        if math.hypot(*vector) < SHORTEST:
            raise ValueError("has no length, expected a vector such as [0, 1, 0]")
        return vector
    raise ValueError('expected "across", "along", "up", a vector [x, y, z] or two point names ["a", "b"]')


def _name(value: str) -> str:
    if not value.strip() or len(value) > NAME_LENGTH or not value.isprintable():
        raise ValueError(f"expected a name of 1 to {NAME_LENGTH} printable characters")
    # An accent may be typed as one character or as two; they look the same and must be the same name.
    return unicodedata.normalize("NFC", value)


def _text(value: str) -> str:
    if not value.strip() or len(value) > TEXT_LENGTH or not value.isprintable():
        raise ValueError(f"expected 1 to {TEXT_LENGTH} printable characters")
    return value


def _own_name(value: str) -> str:
    if value.startswith(("left ", "right ")):
        raise ValueError('may not begin with "left " or "right ", which the mirrored halves use')
    return _name(value)


WORDS = {"along": (1.0, 0.0, 0.0), "across": (0.0, 1.0, 0.0), "up": (0.0, 0.0, 1.0)}

Direction = str | tuple[float, float, float] | tuple[str, str]
Point = Annotated[
    tuple[float, float, float],
    PlainValidator(_three_numbers),
    WithJsonSchema({"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}),
]
DirectionValue = Annotated[
    Direction,
    PlainValidator(_direction),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": ["across", "along", "up"]},
                {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3},
                {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
            ]
        }
    ),
]
Name = Annotated[str, AfterValidator(_name)]
OwnName = Annotated[str, AfterValidator(_own_name)]
Text = Annotated[str, AfterValidator(_text)]
Positive = Annotated[float, Field(gt=0, le=LARGEST, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, le=LARGEST, allow_inf_nan=False)]
FullTurn = Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)]
LimitAngle = Annotated[float, Field(gt=0, le=90, allow_inf_nan=False)]
LimitTurn = Annotated[float, Field(gt=0, le=180, allow_inf_nan=False)]


class Table(BaseModel):
    """One table of the scene file: no unknown keys, no silent conversions, never changed after reading."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def _refuse(table: Table, keys: list[str], who: str, instead: str) -> None:
    """Refuse keys that a table was given though they would do nothing there."""
    wrong = [key for key in keys if key in table.model_fields_set]
    if wrong:
        raise ValueError(f"has {' and '.join(wrong)}, which {who}; {instead} or leave out {' and '.join(wrong)}.")


class JointKind(StrEnum):
    """What sits at the end of a part."""

    ROD_END = "rod end"
    BALL_JOINT = "ball joint"
    INLINE_BALL_JOINT = "inline ball joint"
    RUBBER_BUSH = "rubber bush"
    POLY_BUSH = "poly bush"
    PLAIN_SLEEVE = "plain sleeve"
    STRUT_MOUNT = "strut mount"


class Spacers(StrEnum):
    """What stands between a rod end's ball and its bracket; it decides the typical limit."""

    NONE = "none"
    PLAIN = "plain"
    HIGH_MISALIGNMENT = "high-misalignment"


# The keys of a [joint] table beside kind and source: those that mean something for its kind.
_KEYS_OF_KIND = {
    JointKind.ROD_END: ("tilt", "spacers"),
    JointKind.BALL_JOINT: ("swing",),
    JointKind.INLINE_BALL_JOINT: ("swing",),
    JointKind.RUBBER_BUSH: ("cock", "turn"),
    JointKind.POLY_BUSH: ("cock",),
    JointKind.PLAIN_SLEEVE: ("cock",),
    JointKind.STRUT_MOUNT: ("tilt",),
}


class Joint(Table):
    """A kind of joint with its limits and where they come from; a limit left out falls back to a typical one."""

    kind: Annotated[JointKind, Field(strict=False)]
    tilt: LimitAngle | None = Field(None, description="rod end, strut mount: largest tilt either way, degrees")
    swing: LimitAngle | None = Field(None, description="ball joints: largest stud swing from the centre, degrees")
    cock: LimitAngle | None = Field(None, description="bushes and sleeves: largest cocking across the bolt, degrees")
    turn: LimitTurn | None = Field(None, description="rubber bush: largest wind-up either way, degrees")
    spacers: Annotated[Spacers | None, Field(strict=False)] = Field(
        None, description="rod end: spacers beside the ball; they choose the typical limit"
    )
    source: Text | None = Field(None, description="where the limits come from, such as the maker's sheet and its date")

    @model_validator(mode="after")
    def _belongs(self) -> Self:
        own = _KEYS_OF_KIND[self.kind]
        _refuse(
            self,
            [key for key in ("tilt", "swing", "cock", "turn", "spacers") if key not in own],
            f"a {self.kind} does not have",
            f"use {' and '.join(own)}",
        )
        return self


class Mount(Table):
    """One end of a part: where it is, what holds it and how."""

    point: Name = Field(description="name of the point")
    on: Name = Field(description='what it is bolted to: "frame" or the name of a part')
    joint: Name = Field(description="name of a [joint] table, or one of the plain kinds")
    bolt: DirectionValue | None = Field(
        None, description='direction of the bolt or ball stud: "across", "along", "up", a vector, or two points'
    )
    housing_axis: DirectionValue | None = Field(
        None, description="ball joint: the middle of its swing, where that is not the stud's direction at ride height"
    )


class Pivot(Table):
    """One of an arm's two inner ends; its bolt lies along the line of the two unless said otherwise."""

    point: Name
    joint: Name
    bolt: DirectionValue | None = None


class Link(Table):
    """A bar with two ends."""

    from_: Mount = Field(alias="from")
    to: Mount
    clock: FullTurn = Field(0.0, description="angle in degrees by which the two heads are turned against each other")
    diameter: Positive | None = None
    mirror: bool = Field(False, description="written for the left; the right-hand one is its mirror image")


class Arm(Table):
    """A control arm: two pivots on one part, and a ball joint to another, unless a wheel sits on the arm itself."""

    pivots: list[Pivot] = Field(min_length=2, max_length=2)
    on: Name = Field("frame", description='what the pivots are bolted to: "frame" or the name of a part')
    ball: Mount | None = None
    diameter: Positive | None = None
    mirror: bool = False


class Knuckle(Table):
    """An upright that carries a wheel, held by arms, links and struts that name it."""

    mirror: bool = False


class Axle(Table):
    """A live or dead beam axle that carries both wheels, held by links that name it."""

    tube_diameter: Positive | None = None
    housing: Name | None = Field(None, description="point in the middle of the final drive; none for a plain beam")
    housing_diameter: Positive | None = None
    pinion: Name | None = Field(None, description="point at the pinion flange")


class Wheel(Table):
    """A wheel with its tyre; its height is what moves the suspension."""

    on: Name = Field(description="name of the knuckle, axle or arm that carries it")
    centre: Name = Field(description="point at the middle of the wheel")
    loaded_radius: Positive
    width: Positive
    rim_diameter: Positive | None = None
    camber: Annotated[float, Field(ge=-15, le=15, allow_inf_nan=False)] = Field(
        0.0, description="degrees at ride height; positive leans out at the top"
    )
    toe: Annotated[float, Field(ge=-15, le=15, allow_inf_nan=False)] = Field(
        0.0, description="degrees at ride height for this wheel; positive points in at the front"
    )
    mirror: bool = False


class Spring(Table):
    """A coil spring on its seats."""

    rate: Positive = Field(description="N/mm or lbf/in")
    free_length: Positive
    preload: NotNegative = Field(0.0, description="length it is squeezed by at full extension")
    solid_length: Positive | None = Field(None, description="length with all coils touching")
    outside_diameter: Positive | None = None
    wire_diameter: Positive | None = None


class Coilover(Table):
    """A spring and damper unit; lengths are from eye to eye."""

    top: Mount
    bottom: Mount
    compressed: Positive = Field(description="shortest eye-to-eye length, damper fully in (full bump)")
    extended: Positive = Field(description="longest eye-to-eye length, damper fully out (full droop)")
    spring: Spring | None = None
    bump_stop: NotNegative | None = Field(None, description="length of the bump stop on the shaft")
    body_diameter: Positive | None = None
    mirror: bool = False


class Strut(Table):
    """A strut that is one piece with the knuckle and slides through its top mount."""

    top: Mount
    on: Name = Field(description="the knuckle that the strut is clamped to")
    foot: Name = Field(description="point on the strut's line at its lower end; lengths are from here to the top mount")
    compressed: Positive
    extended: Positive
    spring: Spring | None = None
    bump_stop: NotNegative | None = None
    body_diameter: Positive | None = None
    mirror: bool = False


class Crank(Table):
    """A pitman or idler arm: it turns about its shaft and carries the centre link at its end."""

    pivot: Name
    axis: DirectionValue = "up"
    end: Name
    joint: Name = "ball joint"


class Steering(Table):
    """What the steering wheel moves: a rack that slides, or a pitman arm that turns.

    Tie rods are links whose end is `on = "rack"`, `"pitman arm"` or `"centre link"`.
    """

    kind: Literal["rack", "pitman"]
    axis: DirectionValue = Field("across", description="rack: the direction in which it slides")
    pitman: Crank | None = None
    idler: Crank | None = Field(None, description="with an idler, a centre link joins the two arms")
    lock: Positive | None = Field(None, description="travel each way from straight ahead: length (rack) or degrees")
    lock_left: Positive | None = None
    lock_right: Positive | None = None

    @model_validator(mode="after")
    def _belongs(self) -> Self:
        if self.kind == "pitman":
            _refuse(self, ["axis"], "only a rack has", "give the shaft's direction as pitman.axis")
        if None not in (self.lock, self.lock_left, self.lock_right):
            raise ValueError("has lock beside lock_left and lock_right; keep either lock or those two.")
        return self


class Travel(Table):
    """How far each wheel moves from ride height; both are positive."""

    bump: Positive
    droop: Positive


class FrameShape(Table):
    """A shape on the frame or body, for context: a path with a section, a box, or a mesh file."""

    path: list[Name] | None = Field(None, min_length=2, description="point names along the middle of a tube or rail")
    diameter: Positive | None = Field(None, description="of a round tube along the path")
    section: Annotated[list[Positive], Field(min_length=2, max_length=2)] | None = Field(
        None, description="[width, height] of a box section along the path"
    )
    centre: Name | None = Field(None, description="point in the middle of a box")
    size: Annotated[list[Positive], Field(min_length=3, max_length=3)] | None = Field(
        None, description="[length, width, height] of the box"
    )
    mesh: Text | None = Field(None, description="STL, OBJ, PLY or GLB file beside the scene")
    mesh_units: Annotated[Length, Field(strict=False)] = Length.MM
    mirror: bool = False

    @model_validator(mode="after")
    def _belongs(self) -> Self:
        for shape, sizes in (("path", ["diameter", "section"]), ("centre", ["size"]), ("mesh", ["mesh_units"])):
            if getattr(self, shape) is None:
                _refuse(self, sizes, f"only goes with {shape}", f"add {shape}")
        return self


class Scene(Table):
    """A suspension at ride height with the weight on the wheels."""

    title: Name
    units: Annotated[Length, Field(strict=False)] = Field(
        description="of every length here: mm (rates in N/mm) or in (lbf/in)"
    )
    points: dict[OwnName, Point] = Field(
        min_length=1,
        description="positions at ride height: x forward, y left, z up (ISO 8855); left half only of mirrored parts",
    )
    joint: dict[OwnName, Joint] = Field(default_factory=dict)
    link: dict[OwnName, Link] = Field(default_factory=dict)
    arm: dict[OwnName, Arm] = Field(default_factory=dict)
    knuckle: dict[OwnName, Knuckle] = Field(default_factory=dict)
    axle: dict[OwnName, Axle] = Field(default_factory=dict)
    wheel: Annotated[dict[OwnName, Wheel], Field(min_length=1)]
    coilover: dict[OwnName, Coilover] = Field(default_factory=dict)
    strut: dict[OwnName, Strut] = Field(default_factory=dict)
    steering: Steering | None = None
    travel: Travel
    frame: dict[OwnName, FrameShape] = Field(default_factory=dict)
