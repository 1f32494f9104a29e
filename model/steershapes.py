"""The measured shape of the steering: a rack in its tube, cranks on their shafts, bars, in ride-height coordinates."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from model.mechanism import FRAME, Mechanism, Motion, Offset
from model.solids import Ball, Material, PartSolids, Tube, piece, rod, stack
from model.spatial import Array, across, dot, norm, unit


def steering_bar(part: str, points: Sequence[Array], mechanism: Mechanism) -> list[PartSolids]:
    """A rack in its tube, a crank with its shaft, or a bar through a body's points."""
    body = mechanism.bodies[mechanism.body_number(part)]
    if body.screw is not None and not body.screw.turns:
        axis = body.screw.axis
        return _rack(part, sorted(points, key=lambda at: float(dot(at, axis))), axis)
    shaft = _shaft(part, mechanism)
    if shaft is None:
        middle = np.mean(points, axis=0)
        spread = max(points, key=lambda at: float(norm(at - middle))) - middle
        line = np.array(sorted(points, key=lambda at: float(dot(at - middle, spread))))
        bar = Tube(line, 13.0) if len(line) > 1 else Ball(line[0], 16.0)
        return [piece(part, Material.STEERING, bar)]
    at, axis = shaft
    up = axis if axis[2] >= 0.0 else -axis
    arms = [Tube(np.array([at, point]), 13.0) for point in points if norm(point - at) > 1.0]
    # A driven crank hangs below its gear, any other turns in a plain bracket.
    gear = [(24, 26), (30, 38), (95, 38), (100, 30), (112, 30)] if body.screw is not None else [(22, 20), (60, 20)]
    return [
        piece(part, Material.STEERING, rod(at - 20 * up, at + 20 * up, 22.0), *arms),
        piece(FRAME, Material.CAST, stack(at, up, *gear)),
    ]


def _shaft(part: str, mechanism: Mechanism) -> tuple[Array, Array] | None:
    """A point (3,) and unit direction (3,) of the shaft about which a body turns on the frame, if it does."""
    number = mechanism.body_number(part)
    screw = mechanism.bodies[number].screw
    if screw is not None:
        return screw.point, screw.axis
    pivots = [
        row.tip.at
        for row in mechanism.rows
        if isinstance(row, Offset) and row.drive is None and row.tip.body == number
        if mechanism.bodies[row.base.body].motion is Motion.FIXED
    ]
    apart = [at for at in pivots if norm(at - pivots[0]) > 1.0]
    return (pivots[0], unit(apart[0] - pivots[0])) if apart else None


def _rack(part: str, points: Sequence[Array], axis: Array) -> list[PartSolids]:
    """The bar that slides, and on the frame the tube it slides in."""
    start, stop = points[0], points[-1]
    length = float(norm(stop - start))
    if length < 1.0:
        start, stop, length = start - 150 * axis, start + 150 * axis, 300.0
    middle, along = 0.5 * (start + stop), unit(stop - start)
    housing = rod(middle - 0.3 * length * along, middle + 0.3 * length * along, 24.0)
    pinion = middle + 0.2 * length * along
    up = across(np.array([0.0, 0.0, 1.0]), along)
    tower = rod(pinion - 25 * unit(up), pinion + 62 * unit(up), 22.0)
    return [
        piece(part, Material.BALL, Tube(np.array([start, stop]), 12.0)),
        piece(FRAME, Material.CAST, housing, tower),
    ]
