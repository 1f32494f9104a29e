"""The scene file as typed records: what a person writes, in the person's own units.

These records hold and name; `model.reading` turns a file into them and says what is wrong with it,
`model.assembly` turns them into a mechanism in mm, N and rad.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from model.adjusters import Adjuster
from model.cases import Case
from model.fields import (
    DirectionValue,
    FullTurn,
    Name,
    NotNegative,
    OwnName,
    Point,
    PointName,
    Positive,
    Reference,
    SidedAngle,
    SidedLength,
    SidedPositive,
    Table,
    refuse,
)
from model.joints import Joint
from model.overrides import MOST_VARIANTS, Variant
from model.scenery import Brake, FrameShape, Gap, Hose, OwnMesh, Strap, Wanted
from model.units import Length


class Mount(Table):
    """One end of a part: where it is, what holds it and how."""

    point: Reference = Field(description="name of the point")
    on: Reference = Field(description='what it is bolted to: "frame" or the name of a part')
    joint: Reference = Field(description="name of a [joint] table, or one of the plain kinds")
    bolt: DirectionValue | None = Field(
        None, description='direction of the bolt or ball stud: "across", "along", "up", a vector, or two points'
    )
    housing_axis: DirectionValue | None = Field(
        None, description="ball joint: the middle of its swing, where that is not the stud's direction at ride height"
    )
    engaged: SidedPositive | None = Field(
        None, description="how far its thread is screwed into the bar; [left, right] where the two sides differ"
    )


class Pivot(Table):
    """One of an arm's two inner ends; its bolt lies along the line of the two unless said otherwise."""

    point: Reference
    joint: Reference
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
    on: Reference = Field("frame", description='what the pivots are bolted to: "frame" or the name of a part')
    ball: Mount | None = None
    diameter: Positive | None = None
    mirror: bool = False


class Knuckle(Table):
    """An upright that carries a wheel, held by arms, links and struts that name it, or by its own kingpin."""

    on: Reference | None = Field(None, description="with kingpin: what it turns on, such as a steered axle")
    kingpin: Annotated[list[Pivot], Field(min_length=2, max_length=2)] | None = Field(
        None, description="its two joints there, whose line it turns about"
    )
    mirror: bool = False

    @model_validator(mode="after")
    def _belongs(self) -> Self:
        if (self.on is None) != (self.kingpin is None):
            raise ValueError("needs both on and kingpin, or neither; add the other one.")
        return self


class Axle(Table):
    """A live or dead beam axle that carries both wheels, held by links that name it."""

    tube_diameter: Positive | None = None
    housing: Reference | None = Field(None, description="point in the middle of the final drive; none for a plain beam")
    housing_diameter: Positive | None = None
    pinion: Reference | None = Field(None, description="point at the pinion flange")


class Wheel(Table):
    """A wheel with its tyre; its height is what moves the suspension."""

    on: Reference = Field(description="name of the knuckle, axle or arm that carries it")
    centre: Reference = Field(description="point at the middle of the wheel")
    loaded_radius: Positive
    width: Positive
    rim_diameter: Positive | None = None
    tread_width: Positive | None = Field(None, description="width of the tread; the shoulders are rounded beside it")
    growth: NotNegative | None = Field(None, description="how much the tyre grows at speed and bulges, all round")
    camber: SidedAngle = Field(
        0.0, description="degrees at ride height, [left, right] where they differ; positive leans out at the top"
    )
    toe: SidedAngle = Field(
        0.0,
        description="degrees at ride height for this wheel, [left, right] where they differ; positive points in at "
        "the front",
    )
    driven: bool = Field(False, description="whether the engine turns it")
    drive_torque: Literal["frame", "carrier"] | None = Field(
        None,
        description="what takes up the torque that turns it: the frame (a final drive bolted to it), or the part that "
        "carries the wheel (a live axle's own final drive); left out: the carrier where that is an axle with a housing",
    )
    brake_torque: Literal["frame", "carrier"] = Field(
        "carrier",
        description="what takes up the torque that brakes it: its carrier, or with an inboard brake the frame",
    )
    tyre_rate: Positive | None = Field(
        None, description="how stiff the tyre is, N/mm or lbf/in, for ride frequencies and roll"
    )
    mirror: bool = False


class Spring(Table):
    """A coil spring on its seats."""

    rate: Positive = Field(description="N/mm or lbf/in")
    free_length: Positive
    preload: SidedLength = Field(
        0.0, description="length it is squeezed by at full extension; [left, right] where they differ"
    )
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
    on: Reference = Field(description="the knuckle that the strut is clamped to")
    foot: Reference = Field(
        description="point on the strut's line at its lower end; lengths are from here to the top mount"
    )
    compressed: Positive
    extended: Positive
    spring: Spring | None = None
    bump_stop: NotNegative | None = None
    body_diameter: Positive | None = None
    mirror: bool = False


class Crank(Table):
    """A pitman or idler arm: it turns about its shaft and carries the centre link at its end."""

    pivot: Reference
    axis: DirectionValue = "up"
    end: Reference
    joint: Reference = "ball joint"


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
            refuse(self, ["axis"], "only a rack has", "give the shaft's direction as pitman.axis")
        if None not in (self.lock, self.lock_left, self.lock_right):
            raise ValueError("has lock beside lock_left and lock_right; keep either lock or those two.")
        return self


class Travel(Table):
    """How far each wheel moves from ride height; both are positive."""

    bump: Positive
    droop: Positive


class Bar(Table):
    """An anti-roll bar: two arms that turn about one axis; links whose end is `on` it hold the arms."""

    on: Reference = Field("frame", description="what its bushes are bolted to")
    pivots: list[Pivot] = Field(min_length=2, max_length=2, description="its two bushes, left then right")
    ends: list[Reference] = Field(
        min_length=2, max_length=2, description="points at the ends of its arms, left then right"
    )
    diameter: Positive | None = None
    rate: Positive | None = Field(
        None,
        description="N·m (or lbf·ft) for each degree between its arms; left out: from its diameter",
    )


class ShaftEnd(Table):
    """A joint of a driveshaft: its middle, the part it turns in and the direction of that part's own shaft."""

    point: Reference
    on: Reference
    axis: DirectionValue = Field(description="direction of the gearbox output, pinion or hub at ride height")
    joint: Reference = "universal joint"


class Carrier(Table):
    """The joint behind the centre bearing of a two-piece driveshaft."""

    point: Reference
    on: Reference = "frame"
    joint: Reference = "universal joint"


class Slip(Table):
    """What takes up a driveshaft's change of length: a splined yoke, or a plunging joint."""

    room_in: Positive = Field(description="how far it can still go in at ride height before it bottoms")
    engaged: Positive | None = Field(None, description="splined yoke: length of spline in mesh at ride height")
    diameter: Positive | None = Field(None, description="splined yoke: diameter of its spline")
    room_out: Positive | None = Field(None, description="plunging joint: how far it can still come out at ride height")

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        splined = None not in (self.engaged, self.diameter)
        if splined == (self.room_out is not None) or (self.engaged is None) != (self.diameter is None):
            raise ValueError(
                "needs engaged and diameter (a splined yoke) or room_out (a plunging joint); give one or the other."
            )
        return self


class Shaft(Table):
    """A driveshaft from the gearbox to the pinion, or a half shaft from the final drive to a wheel."""

    from_: ShaftEnd = Field(alias="from")
    carrier: Carrier | None = None
    to: ShaftEnd
    slip: Slip | None = None
    phase: FullTurn = Field(
        0.0, description="degrees by which the yokes at the two ends of the last piece are turned against each other"
    )
    speed: Annotated[float, Field(gt=0, le=20000, allow_inf_nan=False)] | None = Field(
        None, description="rpm at which the torsional acceleration is given"
    )
    diameter: Positive | None = None
    mirror: bool = False


class Weights(Table):
    """What scales show under each wheel at ride height, in kg or lb, and how much of it the springs do not carry."""

    wheel: Positive | None = Field(None, description="under each of two wheels alike")
    left: Positive | None = None
    right: Positive | None = None
    unsprung: NotNegative = Field(
        0.0, description="of that, for each wheel: wheel, brake, hub and half of what holds them"
    )

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        sided = self.left is not None or self.right is not None
        if sided == (self.wheel is not None) or (sided and None in (self.left, self.right)):
            raise ValueError("needs either wheel (the same under both) or left and right; give one or the other.")
        least = min(weight for weight in (self.wheel, self.left, self.right) if weight is not None)
        if self.unsprung >= least:
            raise ValueError(
                f"has {self.unsprung:g} unsprung of {least:g} on a wheel, which leaves nothing for its spring; "
                "give the weight under the wheel with the whole vehicle on it."
            )
        return self


class Scene(Table):
    """A suspension at ride height with the weight on the wheels."""

    title: Name
    units: Annotated[Length, Field(strict=False)] = Field(
        description="of every length here: mm (rates in N/mm) or in (lbf/in)"
    )
    points: dict[PointName, Point] = Field(
        min_length=1,
        description="positions at ride height: x forward, y left, z up (ISO 8855); left half only of mirrored parts, "
        'and "right NAME" where the right-hand one is not the mirror image of NAME',
    )
    joint: dict[OwnName, Joint] = Field(default_factory=dict)
    link: dict[OwnName, Link] = Field(default_factory=dict)
    arm: dict[OwnName, Arm] = Field(default_factory=dict)
    knuckle: dict[OwnName, Knuckle] = Field(default_factory=dict)
    axle: dict[OwnName, Axle] = Field(default_factory=dict)
    wheel: Annotated[dict[OwnName, Wheel], Field(min_length=1)]
    coilover: dict[OwnName, Coilover] = Field(default_factory=dict)
    strut: dict[OwnName, Strut] = Field(default_factory=dict)
    bar: dict[OwnName, Bar] = Field(default_factory=dict)
    hose: dict[OwnName, Hose] = Field(default_factory=dict)
    shaft: dict[OwnName, Shaft] = Field(default_factory=dict)
    mesh: dict[OwnName, OwnMesh] = Field(default_factory=dict)
    brake: dict[OwnName, Brake] = Field(default_factory=dict)
    strap: dict[OwnName, Strap] = Field(default_factory=dict)
    gap: dict[OwnName, Gap] = Field(default_factory=dict)
    wanted: Wanted | None = None
    weights: Weights | None = None
    case: dict[OwnName, Case] = Field(default_factory=dict)
    adjust: dict[OwnName, Adjuster] = Field(default_factory=dict)
    steering: Steering | None = None
    travel: Travel
    frame: dict[OwnName, FrameShape] = Field(default_factory=dict)
    variant: dict[OwnName, Variant] = Field(default_factory=dict, max_length=MOST_VARIANTS)
