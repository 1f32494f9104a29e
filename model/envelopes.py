"""What can touch: one measured shape for each part that can meet another, the same that is drawn.

A measured shape is every solid that is drawn under a label, bolts and bushes with it, less what is only painted.
A spring is measured as the closed cylinder that it fills, a rectangular tube as the box about it, a tyre with its
grooves closed and larger by its growth, a weld not at all, everything else as it is drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from model.mechanism import FRAME, Mechanism
from model.members import halves
from model.meshes import Places, filled_spring, mesh_of, pliant_mesh
from model.partshapes import solids_of
from model.solids import Bead, Material, PartSolids, Pliant, Rail, Revolved, Solid, SpringSolid
from model.spatial import Array
from model.triangles import Mesh, joined
from model.wheelshapes import grown_tyre

# What is drawn and not measured. Painted lines have no thickness and are drawn proud of the paint to be seen. The
# rubber between a bush's sleeve and shell lies between two measured parts that it is bonded to, and moves with both.
# Limit straps are drawn and not measured either: webbing gives way to what it touches.
PAINTED = (Material.MARK, Material.DARK_MARK)
BONDED = "rubber of "


class Kind(StrEnum):
    """What a measured part is, for the distance that is wanted of it."""

    FRAME = "frame"
    TYRE = "tyre"
    RIM = "rim"
    BRAKE = "brake"
    SPRING = "spring"
    HOSE = "hose"
    SHAFT = "driveshaft"
    BAR = "anti-roll bar"
    AXLE = "axle"
    KNUCKLE = "knuckle"
    LINK = "link"
    ARM = "arm"
    DAMPER = "damper"
    BRACKET = "bracket"
    STEERING = "steering"


@dataclass(frozen=True)
class MeasuredPart:
    """A shape that can meet another.

    Attributes:
        label: the name under which a person finds it; a wheel's tyre, rim and brake disc have the wheel's.
        member: the entry of the scene that it belongs to, such as `left coilover` for its shaft, body and spring.
        parts: the part whose transform it rides on, or the two that it hangs between.
        kind: what it is.
        mesh: at ride height, mm. Its triangles are the same in every pose.
        pliant: what it is made from where it changes shape with the pose; empty where it is rigid.

    """

    label: str
    member: str
    parts: tuple[str, ...]
    kind: Kind
    mesh: Mesh
    pliant: tuple[Pliant, ...] = ()

    @property
    def rigid(self) -> bool:
        """Whether it keeps its shape in every pose."""
        return not self.pliant

    def at(self, places: Places) -> Mesh:
        """The mesh with the parts at `places`."""
        if self.pliant:
            return joined(_pliant_shape(solid, places) for solid in self.pliant)
        rotation, translation = places(self.parts[0])
        return Mesh(self.mesh.points @ rotation.T + translation, self.mesh.faces)


def measured_parts(mechanism: Mechanism) -> tuple[MeasuredPart, ...]:
    """Every shape that can meet another, one for each label, part and kind.

    Raises:
        SceneError: a mesh file of the scene cannot be read or is no closed surface.

    """
    model, kinds = solids_of(mechanism), _kinds(mechanism)
    members, straps = _members(mechanism), {strap.name for strap in mechanism.straps}
    grown = {wheel.name: grown_tyre(wheel) for wheel in mechanism.wheels}
    rigid: dict[tuple[str, str, Kind], list[Mesh]] = {}
    for part in model.parts:
        if part.material not in PAINTED and part.label not in straps:
            kind, solids = _kind_of(part, kinds), part.solids
            if kind is Kind.TYRE and part.label in grown and isinstance(solids[0], Revolved):
                solids = (grown[part.label],)
            meshes = [mesh_of(full(solid)) for solid in solids if not isinstance(solid, Bead)]
            rigid.setdefault((part.label, part.part, kind), []).extend(meshes)
    measured = [
        MeasuredPart(label, members.get(label, label), (part,), kind, joined(meshes))
        for (label, part, kind), meshes in rigid.items()
    ]
    pliant = [solid for solid in model.pliant if solid.label not in straps]
    return (*measured, *_hanging(pliant, kinds, members))


def full(solid: Solid) -> Solid:
    """What is measured of a solid: of a rectangular tube the whole box, its edges sharp and its ends closed."""
    return replace(solid, wall=None) if isinstance(solid, Rail) else solid


def at_ride_height(part: str) -> tuple[Array, Array]:
    """The identity: where every part is at ride height."""
    return np.eye(3), np.zeros(3)


def _hanging(pliant: Iterable[Pliant], kinds: dict[str, Kind], members: dict[str, str]) -> Iterator[MeasuredPart]:
    """What changes shape with the pose, one for each label and pair of parts."""
    groups: dict[tuple[str, tuple[str, str]], list[Pliant]] = {}
    for solid in pliant:
        if solid.material not in PAINTED and not solid.label.startswith(BONDED):
            groups.setdefault((solid.label, solid.holders), []).append(solid)
    for (label, parts), solids in groups.items():
        mesh = joined(_pliant_shape(solid, at_ride_height) for solid in solids)
        kind = Kind.SPRING if isinstance(solids[0], SpringSolid) else kinds[label]
        yield MeasuredPart(label, members.get(label, label), parts, kind, mesh, tuple(solids))


def _pliant_shape(solid: Pliant, places: Places) -> Mesh:
    return filled_spring(solid, places) if isinstance(solid, SpringSolid) else pliant_mesh(solid, places)


def _kind_of(part: PartSolids, kinds: dict[str, Kind]) -> Kind:
    """What a rigid shape is: a wheel's by its material, anything else by its label."""
    kind = kinds.get(part.label, Kind.BRACKET)
    if kind is Kind.RIM:
        wheels = {Material.TYRE: Kind.TYRE, Material.BALL: Kind.BRAKE}
        return wheels.get(part.material, Kind.RIM)
    # The nut and the tab at a hose's end are steel and stand still on their part.
    return Kind.BRACKET if kind is Kind.HOSE else kind


def _kinds(mechanism: Mechanism) -> dict[str, Kind]:
    """Kinds by label; brackets are what is left."""
    wheeled = {wheel.on for wheel in mechanism.wheels}
    kinds = {body.name: Kind.KNUCKLE if body.name in wheeled else Kind.STEERING for body in mechanism.bodies}
    kinds |= {FRAME: Kind.FRAME} | {shape.name: Kind.FRAME for shape in mechanism.shapes}
    kinds |= {beam.name: Kind.AXLE for beam in mechanism.beams}
    kinds |= {arm.name: Kind.ARM for arm in mechanism.arms}
    kinds |= {link.name: Kind.LINK for link in mechanism.links}
    kinds |= {half: Kind.DAMPER for unit in mechanism.coilovers for half in halves(unit.name)}
    kinds |= {name: Kind.BAR for bar in mechanism.bars for name in (bar.name, *bar.arms)}
    kinds |= {hose.name: Kind.HOSE for hose in mechanism.hoses}
    kinds |= {shaft.name: Kind.SHAFT for shaft in mechanism.shafts}
    kinds |= {f"{shaft.name} housing": Kind.FRAME for shaft in mechanism.shafts}
    kinds |= {brake.name: Kind.BRAKE for brake in mechanism.brakes}
    return kinds | {wheel.name: Kind.RIM for wheel in mechanism.wheels}


def _members(mechanism: Mechanism) -> dict[str, str]:
    """Entry of the scene by label, where the two differ."""
    members = {
        label: unit.name for unit in mechanism.coilovers for label in (*halves(unit.name), f"{unit.name} spring")
    }
    members |= {arm: bar.name for bar in mechanism.bars for arm in bar.arms}
    return members | {f"{shaft.name} housing": shaft.name for shaft in mechanism.shafts}
