"""The measured shape of a driveshaft: yokes and crosses or cups and boots, tube, spline and centre bearing."""

from __future__ import annotations

import numpy as np

from model.brackets import saddle
from model.joints import JointKind
from model.mechanism import FRAME, Mechanism, Shaft, ShaftJoint
from model.outlines import YOKE
from model.shaftpieces import piece_names
from model.solids import Ball, Drawn, Material, Prism, Solid, WoundSolid, piece, plane_axes, rod, stack
from model.spatial import Array, norm, rotation_about, square_to, unit

# From a joint's middle to where a centre bearing sits, in radii of the shaft.
BEARING = 3.4
# A final drive is drawn up to the vehicle's middle where that is no farther than this, in mm.
MOST_HOUSING = 300.0


def driveshaft(shaft: Shaft, mechanism: Mechanism) -> list[Drawn]:
    """Both halves of the last piece, the first piece of a two-piece shaft, and what each joint is bolted to."""
    front, rear, *first_piece = piece_names(shaft)
    near, far = shaft.joints[-2:]
    along, length = unit(far.at - near.at), float(norm(far.at - near.at))
    size = 0.5 * shaft.diameter
    pins = (square_to(along), rotation_about(along, np.asarray(shaft.phase)) @ square_to(along))
    drawn: list[Drawn] = []
    for name in first_piece:
        drawn += _first_piece(shaft, name, size, mechanism)
    before = unit(near.at - shaft.joints[0].at) if first_piece else near.axis
    holder = first_piece[0] if first_piece else near.on
    drawn += _joint(shaft, near, holder, front, before, along, pins[0], size, mechanism)
    drawn += _joint(shaft, far, far.on, rear, far.axis, -along, pins[1], size, mechanism)
    starts, stops = (YOKE * size if _hooke(joint) else 0.0 for joint in (near, far))
    radius = _tube_radius(shaft, size)
    if shaft.slip is not None and shaft.slip.engaged is not None:
        gap = shaft.slip.room_in
        shown = min(gap + shaft.slip.engaged, 0.6 * length)
        spline = 0.5 * (shaft.slip.diameter or size)
        ridges = np.linspace(starts, starts + shown, 40)
        teeth = [(float(x), spline * (1.0 if k % 2 else 0.93)) for k, x in enumerate(ridges)]
        drawn.append(piece(front, Material.BALL, stack(near.at, along, *teeth), label=shaft.name))
        collar = stack(
            near.at, along, (starts + gap, 1.15 * spline), (starts + gap + 1.2 * shaft.slip.engaged, 1.15 * spline)
        )
        drawn.append(piece(rear, Material.FASTENER, collar, label=shaft.name))
        starts += gap + 8.0
    tube = stack(
        near.at,
        along,
        (starts, 0.75 * radius),
        (starts + 0.8 * radius, radius),
        (length - stops - 0.8 * radius, radius),
        (length - stops, 0.75 * radius),
    )
    return [*drawn, piece(rear, Material.SHAFT, tube, label=shaft.name)]


def _hooke(joint: ShaftJoint) -> bool:
    return joint.joint.kind is JointKind.UNIVERSAL_JOINT


def _tube_radius(shaft: Shaft, size: float) -> float:
    """A propeller shaft is a tube as wide as its yokes, a half shaft a bar thinner than its joints."""
    return size if all(_hooke(joint) for joint in shaft.joints) else 0.55 * size


def _first_piece(shaft: Shaft, name: str, size: float, mechanism: Mechanism) -> list[Drawn]:
    """The first of two pieces, with the centre bearing that holds its rear end on the frame."""
    start, stop = shaft.joints[:2]
    along, length = unit(stop.at - start.at), float(norm(stop.at - start.at))
    pin = square_to(along)
    tube = stack(
        start.at,
        along,
        (YOKE * size, 0.75 * size),
        (YOKE * size + 0.8 * size, size),
        (length - (BEARING + 1.6) * size, size),
        (length - (BEARING + 0.8) * size, 0.6 * size),
        (length - YOKE * size, 0.6 * size),
    )
    bearing = stop.at - BEARING * size * along
    return [
        *_joint(shaft, start, start.on, name, start.axis, along, pin, size, mechanism),
        piece(name, Material.SHAFT, tube, label=shaft.name),
        *saddle(stop.on, bearing, along, 0.75 * size, mechanism, f"centre bearing of {shaft.name}"),
    ]


def _joint(
    shaft: Shaft,
    joint: ShaftJoint,
    holder: str,
    part: str,
    axis: Array | None,
    inward: Array,
    pin: Array,
    size: float,
    mechanism: Mechanism,
) -> list[Drawn]:
    """One joint of a shaft.

    Args:
        shaft: whose joint it is.
        joint: where it is and what kind.
        holder: the part on its far side, a gearbox, pinion, hub or first piece.
        part: the shaft's own half that it is on.
        axis: the holder's own shaft (3,).
        inward: unit direction (3,) into the shaft.
        pin: the trunnions (3,) of the shaft's own yoke, square to `inward`.
        size: radius of the shaft in mm.
        mechanism: of which the shaft is.

    """
    away = -inward if axis is None else axis if float(axis @ inward) < 0.0 else -axis
    if not _hooke(joint):
        return _cup(shaft, joint, holder, part, away, inward, size)
    # The two pairs of trunnions of a cross are square to each other, each pair square to its own shaft.
    other = unit(np.cross(away, pin))
    cross: list[Solid] = [Ball(joint.at, 0.42 * size)]
    cross += [rod(joint.at - 0.98 * size * line, joint.at + 0.98 * size * line, 0.27 * size) for line in (pin, other)]
    drawn: list[Drawn] = [
        piece(part, Material.FASTENER, *_yoke(joint.at, inward, pin, size), label=shaft.name),
        piece(part, Material.BALL, *cross, label=shaft.name),
        piece(holder, Material.FASTENER, *_yoke(joint.at, away, other, size), label=shaft.name),
    ]
    if holder == FRAME:
        drawn.append(piece(FRAME, Material.CAST, _tail(joint.at, away, size), label=f"{shaft.name} housing"))
    return drawn


def _yoke(at: Array, inward: Array, pin: Array, size: float) -> list[Solid]:
    """Two ears about a cross's trunnions (3,) on a round base that leads into a shaft."""
    ear, thickness = 0.46 * size, 0.36 * size
    turn = np.linspace(np.pi / 2, 3 * np.pi / 2, 13)
    nose = ear * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    outline = np.concatenate([nose, [[1.5 * size, -1.25 * ear], [1.5 * size, 1.25 * ear]]])
    axes = plane_axes(pin, inward)
    ears: list[Solid] = [Prism(at + side * 0.75 * size * pin, axes, outline, thickness) for side in (1.0, -1.0)]
    base = stack(at, inward, (1.2 * size, 0.93 * size), (1.55 * size, 0.93 * size), (YOKE * size, 0.62 * size))
    return [*ears, base]


def _tail(at: Array, away: Array, size: float) -> Solid:
    """The end of a gearbox or transfer case that a yoke turns in."""
    steps = ((1.95, 0.6), (2.0, 0.95), (2.7, 1.05), (4.6, 1.5), (4.8, 1.5), (4.85, 1.7), (5.2, 1.7))
    return stack(at, away, *((along * size, wide * size) for along, wide in steps))


def _cup(
    shaft: Shaft, joint: ShaftJoint, holder: str, part: str, away: Array, inward: Array, size: float
) -> list[Drawn]:
    """The cup of a constant-velocity joint with its stub, and a boot that bends between it and the shaft."""
    at, bar = joint.at, _tube_radius(shaft, size)
    cup = stack(
        at,
        away,
        (-0.75 * size, 1.2 * size),
        (-0.65 * size, 1.28 * size),
        (0.55 * size, 1.28 * size),
        (0.9 * size, 0.95 * size),
        (1.1 * size, 0.55 * size),
        (2.4 * size, 0.5 * size),
    )
    # A boot with folds, from the cup's mouth to a band on the shaft.
    folds = np.linspace(0.0, 1.0, 9)
    along = (0.7 + 2.0 * folds) * size
    wide = 1.2 * size + folds * (bar + 3.0 - 1.2 * size) + np.where(np.arange(9) % 2, 0.1, 0.0) * size
    boot = stack(at, inward, *((float(x), float(r)) for x, r in zip(along, wide, strict=True)))
    drawn: list[Drawn] = [
        piece(holder, Material.FASTENER, cup, label=shaft.name),
        piece(part, Material.BALL, Ball(at, 0.8 * size), label=shaft.name),
        WoundSolid(
            label=shaft.name,
            material=Material.RUBBER,
            near=holder,
            far=part,
            origin=at,
            axis=inward,
            span=(0.7 * size, 2.7 * size),
            lengthwise=True,
            far_turn=np.eye(3),
            solids=(boot,),
        ),
    ]
    if holder == FRAME:
        drawn.append(piece(FRAME, Material.CAST, _final_drive(at, away, size), label=f"{shaft.name} housing"))
    return drawn


def _final_drive(at: Array, away: Array, size: float) -> Solid:
    """Half of a final drive's housing, from a half shaft's stub to the vehicle's middle where that is near."""
    middle = abs(float(at[1] / away[1])) if abs(float(away[1])) > 0.5 else 0.0
    reach = middle if 3.0 * size < middle < MOST_HOUSING else 3.0 * size
    steps = ((1.3 * size, 1.1 * size), (1.5 * size, 1.5 * size), (0.4 * reach + size, 1.7 * size), (reach, 3.2 * size))
    return stack(at, away, *steps)
