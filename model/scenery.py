"""The entries of a scene file that hold nothing: what hangs, what stands around, which gaps are wanted."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from model.fields import FullTurn, LimitTurn, NotNegative, Point, Positive, Reference, Table, Text, refuse
from model.units import MeshUnit


class HoseEnd(Table):
    """Where a hose is fixed."""

    point: Reference
    on: Reference


class Hose(Table):
    """A brake hose or cable that must never go taut."""

    from_: HoseEnd = Field(alias="from")
    to: HoseEnd
    length: Positive = Field(description="between its two fixings, pulled straight")
    mirror: bool = False


class Placing(Table):
    """How a mesh file lies: first turned about x, then y, then z, then moved."""

    turn: Point | None = Field(None, description="[about x, about y, about z] in degrees")
    move: Point | None = Field(None, description="[x, y, z], in the scene's own unit")


class OwnMesh(Table):
    """A mesh file in place of the drawn and measured shape of a part."""

    of: Reference = Field(description="the part that it is the shape of")
    file: Text = Field(description="STL, OBJ, PLY or GLB file beside the scene, at ride height")
    units: Annotated[MeshUnit, Field(strict=False)] = MeshUnit.MM
    place: Placing | None = None
    mirror: bool = False


class Brake(Table):
    """A brake disc and the envelope of its caliper, inboard of a wheel's centre."""

    wheel: Reference = Field(description="the wheel that it stops")
    diameter: Positive
    thickness: Positive
    inboard: float = Field(description="from the wheel's centre to the middle of the disc, positive inboard")
    caliper_outer: Positive | None = Field(None, description="radius of the caliper's outer face")
    caliper_width: Positive | None = Field(None, description="of the caliper, along the wheel's axis")
    caliper_angle: FullTurn = Field(90.0, description="where the caliper sits: 0 up, 90 to the rear, degrees")
    caliper_span: LimitTurn = Field(60.0, description="how far the caliper reaches round the disc, degrees")
    mirror: bool = False

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if (self.caliper_outer is None) != (self.caliper_width is None):
            raise ValueError("needs both caliper_outer and caliper_width, or neither; add the other one.")
        return self


class Strap(Table):
    """A limit strap: the distance between its ends cannot get longer than it."""

    from_: HoseEnd = Field(alias="from")
    to: HoseEnd
    length: Positive
    mirror: bool = False


class Gap(Table):
    """What is wanted of the distance between two parts."""

    between: list[Reference] = Field(
        min_length=2, max_length=2, description="names of two parts, wheels or frame shapes"
    )
    wanted: NotNegative | None = Field(None, description="least distance that is wanted")
    ignore: bool = Field(False, description="true: these two may touch and are not measured")
    mirror: bool = False

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.wanted is None) != self.ignore:
            raise ValueError("needs either wanted or ignore = true; give one of them.")
        return self


class Wanted(Table):
    """Least distances that are wanted, by kind; what is left out is typical."""

    tyre: NotNegative | None = Field(None, description="tyre to frame and body")
    wheel: NotNegative | None = Field(None, description="tyre or rim to brake, arm or link")
    spring: NotNegative | None = Field(None, description="spring to anything")
    hose: NotNegative | None = Field(None, description="hose to anything")
    shaft: NotNegative | None = Field(None, description="driveshaft to anything")
    other: NotNegative | None = Field(None, description="any other two parts")


class FrameShape(Table):
    """A shape on the frame or body: a path with a section, a box, or a mesh file."""

    path: list[Reference] | None = Field(
        None, min_length=2, description="point names along the middle of a tube or rail"
    )
    diameter: Positive | None = Field(None, description="of a round tube along the path")
    section: Annotated[list[Positive], Field(min_length=2, max_length=2)] | None = Field(
        None, description="[width, height] of a box section along the path"
    )
    centre: Reference | None = Field(None, description="point in the middle of a box")
    size: Annotated[list[Positive], Field(min_length=3, max_length=3)] | None = Field(
        None, description="[length, width, height] of the box"
    )
    mesh: Text | None = Field(None, description="STL, OBJ, PLY or GLB file beside the scene")
    mesh_units: Annotated[MeshUnit, Field(strict=False)] = MeshUnit.MM
    open: bool = Field(False, description="true: the mesh may have open edges, as a scan of one side of a thing has")
    place: Placing | None = Field(None, description="of a mesh: how it lies")
    mirror: bool = False

    @model_validator(mode="after")
    def _belongs(self) -> Self:
        for shape, sizes in (
            ("path", ["diameter", "section"]),
            ("centre", ["size"]),
            ("mesh", ["mesh_units", "open", "place"]),
        ):
            if getattr(self, shape) is None:
                refuse(self, sizes, f"only goes with {shape}", f"add {shape}")
        return self
