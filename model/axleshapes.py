"""The measured shape of axles, hubs and uprights, in ride-height coordinates."""

from __future__ import annotations

import numpy as np

from model.mechanism import Beam, Mechanism, Wheel
from model.outlines import YOKE, beam_line, flange_of, inboard_of, kingpins_of, loose_points, seat_of
from model.solids import Ball, Material, PartSolids, Solid, Tube, hexagon, piece, plane_axes, ring, rod, rounded, stack
from model.spatial import Array, across, norm, unit

# A kingpin, the axle's eye about it, and the knuckle's lug beyond the eye, from the joint's middle, in mm.
PIN_RADIUS, EYE_RADIUS, EYE_HALF, LUG = 13.0, 27.0, 24.0, 38.0


def axle(beam: Beam, mechanism: Mechanism) -> list[PartSolids]:
    """An axle: tube, hubs, centre housing with its cover, pinion nose and flange."""
    line = beam_line(beam, mechanism)
    radius = 0.5 * beam.tube_diameter
    wheels = [wheel for wheel in mechanism.wheels if wheel.on == beam.name]
    pieces = [
        piece
        for wheel in wheels
        for piece in hub(wheel, flange_of(wheel) + 40.0 * inboard_of(wheel), radius, mechanism)
    ]
    solids: list[Solid] = []
    if len(line) == 2:
        solids.append(Tube(line, radius))
    across_car = unit(line[-1] - line[0]) if len(line) == 2 else np.array([0.0, 1.0, 0.0])
    if beam.housing is not None:
        size = 0.5 * beam.housing_diameter
        half = [(-1.25 * size, radius + 3), (-0.85 * size, 0.62 * size), (-0.5 * size, 0.93 * size)]
        corners = np.array([*half, *((-along, out) for along, out in reversed(half))])
        bulb = stack(beam.housing, across_car, *((x, r) for x, r in rounded(corners, 0.45 * size, 7).tolist()))
        nose = beam.pinion if beam.pinion is not None else beam.housing + np.array([1.6 * size, 0.0, 0.0])
        forward = unit(nose - beam.housing)
        back = across(-forward, across_car)
        back = unit(back)
        cover = stack(
            beam.housing,
            back,
            (0.62 * size, 1.0 * size),
            (0.78 * size, 1.0 * size),
            (0.8 * size, 0.86 * size),
            (1.02 * size, 0.7 * size),
            (1.12 * size, 0.42 * size),
            (1.14 * size, 0.1 * size),
        )
        turn = plane_axes(back, across_car)
        bolts = [
            hexagon(beam.housing + 0.8 * size * back + 0.93 * size * (turn @ [np.cos(a), np.sin(a), 0.0]), back, 11, 9)
            for a in np.arange(10) * np.pi / 5
        ]
        solids += [bulb, cover]
        pieces.append(piece(beam.name, Material.FASTENER, *bolts))
        if beam.pinion is not None:
            reach = float(norm(beam.pinion - beam.housing)) - _yoke_room(beam, mechanism)
            solids.append(
                stack(
                    beam.housing,
                    forward,
                    (0.5 * size, 0.75 * size),
                    (0.62 * reach, 0.42 * size),
                    (reach - 26, 0.34 * size),
                )
            )
            flange = stack(beam.housing, forward, (reach - 27, 20), (reach - 10, 20), (reach - 9, 48), (reach, 48))
            pieces.append(piece(beam.name, Material.FASTENER, flange))
    return [piece(beam.name, Material.AXLE, *solids), *pieces, *_forks(beam, mechanism)]


def _yoke_room(beam: Beam, mechanism: Mechanism) -> float:
    """How far behind its point (mm) an axle's pinion flange sits, so that a driveshaft's yoke fits onto it."""
    sizes = [
        0.5 * shaft.diameter
        for shaft in mechanism.shafts
        for joint in shaft.joints
        if joint.on == beam.name and beam.pinion is not None and norm(joint.at - beam.pinion) < shaft.diameter
    ]
    return YOKE * max(sizes, default=0.0)


def _forks(beam: Beam, mechanism: Mechanism) -> list[PartSolids]:
    """The ends of a steered axle: two arms from the tube to the eyes that a kingpin turns in, and the pin itself."""
    line = beam_line(beam, mechanism)
    radius = 0.5 * beam.tube_diameter
    pieces: list[PartSolids] = []
    for part, (lower, upper) in kingpins_of(beam, mechanism).items():
        axis = unit(upper.at - lower.at)
        root = min(line, key=lambda end: float(norm(end - lower.at)))
        solids: list[Solid] = [Ball(root, 1.1 * radius)]
        for pin in (lower, upper):
            elbow = pin.at + 0.4 * across(root - pin.at, axis)
            solids += [rod(root, elbow, 0.62 * radius, 0.0), Ball(elbow, 0.62 * radius)]
            solids += [rod(elbow, pin.at, 0.58 * radius, 0.0), ring(pin.at, axis, EYE_HALF, PIN_RADIUS, EYE_RADIUS)]
        pieces.append(piece(beam.name, Material.AXLE, *solids))
        ends = lower.at - LUG * axis, upper.at + LUG * axis
        pieces.append(piece(part, Material.BALL, rod(ends[0] - 8.0 * axis, ends[1] + 8.0 * axis, PIN_RADIUS)))
        lugs = [rod(end - 12.0 * axis, end + 12.0 * axis, EYE_RADIUS) for end in ends]
        pieces.append(piece(part, Material.CAST, *lugs))
    return pieces


def upright(part: str, wheel: Wheel, mechanism: Mechanism) -> list[PartSolids]:
    """Hub, spindle and a bar to what holds each joint; the bars meet at the spindle's inner end."""
    inner = flange_of(wheel) + 42.0 * inboard_of(wheel)
    bars: list[Solid] = []
    for point in loose_points(part, [], mechanism):
        at = _lug(part, seat_of(part, point, mechanism), mechanism)
        if norm(at - inner) < 20.0:
            continue
        knee = inner + 0.55 * (at - inner)
        bars += [rod(inner, at, 13.0), rod(inner, knee, 17.0)]
    return [piece(part, Material.CAST, *bars, Ball(inner, 26.0)), *hub(wheel, inner, 26.0, mechanism)]


def _lug(part: str, at: Array, mechanism: Mechanism) -> Array:
    """Where (3,) a knuckle takes hold of its kingpin, beyond the axle's eye; any other point is left as it is."""
    for beam in mechanism.beams:
        for lower, upper in [pins for knuckle, pins in kingpins_of(beam, mechanism).items() if knuckle == part]:
            axis = unit(upper.at - lower.at)
            for pin, way in ((lower, -1.0), (upper, 1.0)):
                if norm(pin.at - at) < 1.0:
                    return np.asarray(pin.at + way * LUG * axis)
    return at


def hub(wheel: Wheel, inner: Array, radius: float, mechanism: Mechanism) -> list[PartSolids]:
    """Hub flange and spindle from the rim's disc to `inner`; where no brake is given, a disc that fits the rim."""
    inward, flange = inboard_of(wheel), flange_of(wheel)
    reach = float(norm(inner - flange))
    spindle = stack(flange, inward, (0.0, 68), (10, 68), (12, 40), (0.6 * reach, 36), (reach, radius + 2))
    cast = piece(wheel.on, Material.CAST, spindle)
    if any(brake.wheel == wheel.name for brake in mechanism.brakes):
        return [cast]
    disc = 0.36 * wheel.rim_diameter
    brake = ring(flange + 24.0 * inward, inward, 11.0, 0.5 * disc, disc, 0.05)
    # The hat begins on the flange and closes the disc's bore on its inner side.
    hat = stack(flange, inward, (9.0, 0.53 * disc), (12.0, 0.56 * disc), (35.5, 0.56 * disc), (36.5, 0.54 * disc))
    return [cast, piece(wheel.on, Material.BALL, brake, hat, label=wheel.name)]
