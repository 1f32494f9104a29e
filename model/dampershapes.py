"""The measured shape of coilovers and struts: body, shaft, seats, bump stop and spring, in ride-height coordinates."""

from __future__ import annotations

import numpy as np

from model.fittings import Eyes, eye_of, joint_fitting
from model.mechanism import Coilover, Mechanism
from model.members import halves
from model.solids import (
    Drawn,
    Material,
    Solid,
    SpringSolid,
    notched_ring,
    piece,
    ring,
    rod,
    stack,
)
from model.spatial import norm, unit

# How far below and above its spring seat a coilover's body is threaded, and from ridge to ridge, in mm: coarser than
# any thread, so that it can be seen. Slots in the rings for a hook spanner, and their depth.
THREAD, RIDGE = (50.0, 25.0), 3.0
SLOTS, SLOT_DEPTH = 8, 4.0


def damper(unit_: Coilover, mechanism: Mechanism, eyes: Eyes) -> list[Drawn]:
    """Shaft, bump stop and upper perch on the upper half; body and lower perch on the lower half."""
    shaft, body = halves(unit_.name)
    down = unit(unit_.bottom.at - unit_.top.at)
    radius = 0.5 * unit_.body_diameter
    size = 0.62 * unit_.body_diameter
    eye = eye_of(unit_.name, unit_.top, eyes)
    top = joint_fitting(unit_.top, unit_.name, shaft, down, size, Material.FASTENER, mechanism, eye)
    pieces: list[Drawn] = [*top.pieces]
    head = max(top.reach, 14.0)
    # The body ends where full bump leaves just the upper eye above it.
    body_length = unit_.compressed - head - 6.0
    foot = unit_.bottom.at
    low = 0.0
    if not unit_.strut:
        eye = eye_of(unit_.name, unit_.bottom, eyes)
        bottom = joint_fitting(unit_.bottom, unit_.name, body, -down, size, Material.FASTENER, mechanism, eye)
        pieces += bottom.pieces
        low = bottom.reach
    # At full bump the shaft's end stands just inside the body's closed end.
    rod_end = unit_.top.at + (unit_.compressed - low - 12.0) * down
    cap = [(body_length - 12, radius + 2), (body_length + 4, radius + 2), (body_length + 5, 0.5 * radius)]
    pieces += [
        piece(shaft, Material.BALL, rod(unit_.top.at + 0.9 * head * down, rod_end, 0.3 * radius + 4.0)),
        piece(
            shaft,
            Material.FASTENER,
            rod(unit_.top.at + 0.85 * top.reach * down, unit_.top.at + (head + 5) * down, 0.55 * radius),
        ),
        piece(
            body,
            Material.DAMPER,
            stack(
                foot,
                -down,
                (0.9 * low, 0.6 * radius),
                (low + 8, radius),
                *_thread(unit_, low + 8, body_length - 18),
                (body_length - 5, radius),
                (body_length, radius - 5),
            ),
        ),
        piece(body, Material.FASTENER, stack(foot, -down, *cap)),
    ]
    if unit_.bump_stop:
        length, wide = unit_.bump_stop, 0.8 * radius
        steps = [
            (head + 4 + share * length, wide * bulge)
            for share, bulge in (
                (0, 1.0),
                (0.18, 1.05),
                (0.3, 0.85),
                (0.45, 0.95),
                (0.6, 0.75),
                (0.8, 0.8),
                (1.0, 0.55),
            )
        ]
        pieces.append(piece(shaft, Material.RUBBER, stack(unit_.top.at, down, *steps)))
    if unit_.spring is not None:
        spring = coil_spring(unit_)
        seat = spring.mean_radius + spring.wire_radius + 2.0
        hat = stack(spring.top, -down, (0, seat), (3, seat), (5, 0.8 * seat), (9, 0.5 * seat))
        cup = stack(spring.bottom, down, (0, seat), (3, seat), (5, radius + 6), (16, radius + 6))
        if not unit_.strut:
            cup = stack(spring.bottom, down, (0, seat), (3, seat), (5, 0.5 * (seat + radius)), (7, radius + 1))
        pieces += [piece(shaft, Material.FASTENER, hat), piece(body, Material.FASTENER, cup, *_rings(unit_)), spring]
    if unit_.strut:
        clamp = [ring(foot - (0.5 * low + x) * down, down, 14.0, radius - 1, radius + 7) for x in (30.0, 80.0)]
        pieces.append(piece(body, Material.CAST, *clamp))
    return pieces


def _rings(unit_: Coilover) -> list[Solid]:
    """The slotted ring that carries a coilover's spring seat, and the thinner one that locks it."""
    if unit_.strut:
        return []
    spring, radius = coil_spring(unit_), 0.5 * unit_.body_diameter
    down = unit(unit_.bottom.at - unit_.top.at)
    heights, radii = ((6.5, 18.0), (19.5, 26.0)), (radius - 2.0, radius + 7.0)
    return [notched_ring(spring.bottom, down, span, radii, SLOTS, SLOT_DEPTH) for span in heights]


def _thread(unit_: Coilover, low: float, high: float) -> list[tuple[float, float]]:
    """Steps (from the lower eye, radius) of the thread on which a coilover's rings are turned, between two heights."""
    if unit_.spring is None or unit_.strut:
        return []
    spring, radius = coil_spring(unit_), 0.5 * unit_.body_diameter
    seat = float(norm(spring.bottom - unit_.bottom.at))
    start, stop = max(low + 2.0, seat - THREAD[0]), min(high, seat + THREAD[1])
    ridges = np.arange(start, stop, RIDGE)
    return [step for at in ridges for step in ((float(at), radius), (float(at) + 0.5 * RIDGE, radius - 0.8))]


def coil_spring(unit_: Coilover) -> SpringSolid:
    """A coilover's spring between its perches, which stand where the spring's length and preload put them."""
    if unit_.spring is None:
        raise AssertionError("the caller knows that there is a spring")
    spring = unit_.spring
    shaft, body = halves(unit_.name)
    down = unit(unit_.bottom.at - unit_.top.at)
    beside = unit_.extended - (spring.free_length - spring.preload)
    above = min(38.0, 0.4 * beside)
    wire = spring.wire_diameter
    return SpringSolid(
        label=f"{unit_.name} spring",
        top_part=shaft,
        top=unit_.top.at + above * down,
        bottom_part=body,
        bottom=unit_.bottom.at - (beside - above) * down,
        mean_radius=0.5 * (spring.outside_diameter - wire),
        wire_radius=0.5 * wire,
        coils=_coils(unit_),
    )


def _coils(unit_: Coilover) -> float:
    """Turns of wire: those that are solid at the given solid length, else as many as leave a gap at full bump."""
    spring = unit_.spring
    if spring is None:
        raise AssertionError("the caller knows that there is a spring")
    if spring.solid_length is not None:
        return max(3.0, spring.solid_length / spring.wire_diameter - 1.0)
    shortest = spring.free_length - spring.preload - unit_.stroke
    # Common road and off-road springs have 6 to 9 turns; a third of a wire is left between them at full bump.
    return float(np.clip(shortest / (1.35 * spring.wire_diameter), 3.0, 8.5))
