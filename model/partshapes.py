"""The measured shape of every part, in ride-height coordinates, from a mechanism."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from model.axleshapes import axle, hub, upright
from model.barshapes import bar_shape
from model.boxbars import box_outline
from model.brakeshapes import brake_shape
from model.dampershapes import damper
from model.driveshapes import driveshaft
from model.fittings import Eyes, eye_of, joint_fitting
from model.hoseshapes import hose_shape
from model.mechanism import FRAME, Arm, FrameShape, Link, Mechanism, Motion
from model.members import eye_axes
from model.outlines import ARM_BALL, loose_points, nearest_on, outer_end
from model.ownmeshes import with_own_meshes
from model.solids import (
    Ball,
    Bead,
    Drawn,
    Material,
    MeshFile,
    PartSolids,
    Prism,
    Rail,
    Solid,
    SolidModel,
    Tube,
    piece,
    rod,
    rounded,
)
from model.spatial import Array, norm, unit
from model.steershapes import steering_bar
from model.strapshapes import strap_shape
from model.welds import BEND, Stem, end_welds, round_outline, stems, weld
from model.wheelshapes import wheel_shape

# The wall of a rectangular tube as a share of its smaller side, and between which thicknesses in mm (common practice,
# no source). It is drawn, and measured as if it were full.
WALL, WALLS = 0.06, (2.5, 6.0)


def solids_of(mechanism: Mechanism) -> SolidModel:
    """The shape of every part of a mechanism.

    Raises:
        SceneError: a mesh file stands for something that is not one rigid part.

    """
    eyes = eye_axes(mechanism)
    drawn: list[Drawn] = []
    for shape in mechanism.shapes:
        drawn += _frame_shape(shape, mechanism)
    for beam in mechanism.beams:
        drawn += axle(beam, mechanism)
    for name in _plain_bodies(mechanism):
        drawn += _joined_points(name, mechanism)
    for arm in mechanism.arms:
        drawn += _arm(arm, mechanism, eyes)
    for link in mechanism.links:
        drawn += _link(link, mechanism, eyes)
    for unit_ in mechanism.coilovers:
        drawn += damper(unit_, mechanism, eyes)
    for bar in mechanism.bars:
        drawn += bar_shape(bar, mechanism)
    for hose in mechanism.hoses:
        drawn += hose_shape(hose, mechanism)
    for strap in mechanism.straps:
        drawn += strap_shape(strap, mechanism)
    for shaft in mechanism.shafts:
        drawn += driveshaft(shaft, mechanism)
    for wheel in mechanism.wheels:
        drawn += wheel_shape(wheel)
    for brake in mechanism.brakes:
        drawn += brake_shape(brake, mechanism)
    drawn = with_own_meshes(drawn, mechanism)
    parts = _merged(part for part in drawn if isinstance(part, PartSolids))
    return SolidModel(parts, tuple(solid for solid in drawn if not isinstance(solid, PartSolids)))


def _merged(pieces: Iterable[PartSolids]) -> tuple[PartSolids, ...]:
    groups: dict[tuple[str, str, Material], list[Solid]] = {}
    for part in pieces:
        groups.setdefault((part.part, part.label, part.material), []).extend(part.solids)
    return tuple(PartSolids(*key, tuple(solids)) for key, solids in groups.items())


def _link(link: Link, mechanism: Mechanism, eyes: Eyes) -> list[Drawn]:
    first, second = link.ends
    along = unit(second.at - first.at)
    steered = {first.on, second.on} & {body.name for body in mechanism.bodies if body.motion is Motion.DRIVEN}
    paint = Material.STEERING if steered else Material.LINK
    heads = [
        joint_fitting(end, link.name, link.name, inward, link.diameter, paint, mechanism, eye_of(link.name, end, eyes))
        for end, inward in ((first, along), (second, -along))
    ]
    length = float(norm(second.at - first.at))
    reach = [min(head.reach, 0.45 * length) for head in heads]
    tube = rod(first.at + reach[0] * along, second.at - reach[1] * along, 0.5 * link.diameter, 0.08)
    line = np.stack([first.at, second.at])
    welds = [
        bead
        for head, leg in zip(heads, (line, line[::-1]), strict=True)
        for bead in _tube_weld(leg, 0.5 * link.diameter, head.shell)
    ]
    return [piece(link.name, paint, tube, *welds), *heads[0].pieces, *heads[1].pieces]


def _tube_weld(leg: Array, radius: float, shell: Stem | None) -> tuple[Bead, ...]:
    """The bead where the first end of a tube along a leg (2, 3) is welded to the shell of its bush."""
    if shell is None:
        return ()
    inward = unit(leg[1] - leg[0])
    return weld(round_outline(leg[0] + 4.0 * shell.radius * inward, inward, radius), -inward, (shell,))


def _arm(arm: Arm, mechanism: Mechanism, eyes: Eyes) -> list[Drawn]:
    outer = outer_end(arm, mechanism)
    radius = 0.5 * arm.diameter
    pieces: list[Drawn] = []
    legs: list[Array] = []
    shells: list[Stem | None] = []
    stop = 0.0 if arm.ball is None else 1.2 * radius
    for pivot in arm.pivots:
        inward = unit(outer - pivot.at)
        eye = eye_of(arm.name, pivot, eyes)
        head = joint_fitting(pivot, arm.name, arm.name, inward, arm.diameter, Material.ARM, mechanism, eye)
        pieces += head.pieces
        leg = np.array([pivot.at + head.reach * inward, outer - stop * inward])
        legs.append(leg)
        shells.append(head.shell)
    tubes: list[Solid] = [rod(leg[0], leg[1], radius, 0.08) for leg in legs]
    for leg, shell in zip(legs, shells, strict=True):
        tubes += _tube_weld(leg, radius, shell)
    share = 0.3
    cross = [leg[0] + share * (leg[1] - leg[0]) for leg in legs]
    if norm(cross[1] - cross[0]) > 4 * radius:
        tubes.append(rod(cross[0], cross[1], 0.8 * radius, 0.0))
        tubes += end_welds([Stem(np.array(cross), 0.8 * radius)], [[Stem(leg, radius)] for leg in legs])
    if arm.ball is not None:
        inward = unit(0.5 * (arm.pivots[0].at + arm.pivots[1].at) - outer)
        size, eye = ARM_BALL * arm.diameter, eye_of(arm.name, arm.ball, eyes)
        pieces += joint_fitting(arm.ball, arm.name, arm.name, inward, size, Material.ARM, mechanism, eye).pieces
    else:
        tubes.append(Ball(outer, 1.15 * radius))
        pieces += [
            piece
            for wheel in mechanism.wheels
            if wheel.on == arm.name
            for piece in hub(wheel, outer, radius, mechanism)
        ]
    known = [*(pivot.at for pivot in arm.pivots), outer]
    for at in loose_points(arm.name, known, mechanism):
        # A spring or damper bracket's post, from the nearest leg or the cross-tube.
        foot = min((nearest_on(line, at) for line in (*legs, np.array(cross))), key=lambda q: float(norm(q - at)))
        if norm(at - foot) > 2 * radius:
            post = np.stack([at + 0.8 * radius * unit(foot - at), foot])
            tubes += [rod(post[1], post[0], 0.6 * radius, 0.0)]
            tubes += end_welds([Stem(post, 0.6 * radius)], [[Stem(leg, radius)] for leg in legs])
    return [piece(arm.name, Material.ARM, *tubes), *pieces]


def _plain_bodies(mechanism: Mechanism) -> list[str]:
    """Bodies without a record of their own: knuckles, the rack, steering arms, the centre link."""
    described = {FRAME, *(beam.name for beam in mechanism.beams)}
    described |= {arm.name for arm in mechanism.arms} | {link.name for link in mechanism.links}
    return [body.name for body in mechanism.bodies if body.name not in described]


def _joined_points(part: str, mechanism: Mechanism) -> list[PartSolids]:
    """A body drawn as bars between its points: an upright about its hub, or a bar of the steering."""
    wheels = [wheel for wheel in mechanism.wheels if wheel.on == part]
    if wheels:
        return upright(part, wheels[0], mechanism)
    points = loose_points(part, [], mechanism)
    return steering_bar(part, points, mechanism) if points else []


def _frame_shape(shape: FrameShape, mechanism: Mechanism) -> list[PartSolids]:
    solids: list[Solid] = []
    if shape.path is not None:
        own = stems(shape.path, shape.diameter, shape.section)
        others = [(each.path, each) for each in mechanism.shapes if each is not shape and each.path is not None]
        if shape.section is not None:
            wall = float(np.clip(WALL * min(shape.section), *WALLS))
            solids += [Rail(shape.path, shape.section, wall), *_end_plates(own, wall)]
        else:
            solids.append(Tube(rounded(shape.path, BEND * own[0].radius), own[0].radius))
        solids += end_welds(own, [stems(path, each.diameter, each.section) for path, each in others])
    elif shape.centre is not None and shape.size is not None:
        corners = 0.5 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(shape.size[:2])
        solids.append(Prism(shape.centre, np.eye(3), corners, shape.size[2]))
    elif shape.mesh is not None:
        solids.append(
            MeshFile(shape.mesh, shape.mesh_scale, shape.mirrored, shape.rotation, shape.move, shape.mesh_open)
        )
    return [piece(FRAME, Material.FRAME, *solids, label=shape.name)]


def _end_plates(own: Sequence[Stem], wall: float) -> list[Solid]:
    """Plates that close the two ends of a rectangular tube, a little inside its rim."""
    plates: list[Solid] = []
    for stem, end, inward in ((own[0], own[0].leg[0], 1.0), (own[-1], own[-1].leg[1], -1.0)):
        if stem.section is None or stem.axes is None:
            continue
        # Half in the wall all round, its outer face half a wall behind the rim.
        corners = box_outline((stem.section[0] - wall, stem.section[1] - wall), wall)
        axes = stem.axes[:, [1, 2, 0]]
        plates.append(Prism(end + inward * wall * stem.axes[:, 0], axes, corners, wall))
    return plates
