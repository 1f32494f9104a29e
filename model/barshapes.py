"""The measured shape of an anti-roll bar: two bent arms, the middle that twists, and what holds it."""

from __future__ import annotations

import numpy as np

from model.brackets import saddle
from model.joints import JointKind
from model.mechanism import Bar, Mechanism
from model.outlines import bar_line
from model.solids import Drawn, Material, Rail, Tube, WoundSolid, piece, rod, rounded
from model.spatial import Array, across, norm, square_to, unit

# The painted line along the bar, mm wide, with this many points: a straight line that winds as the bar twists.
LINE_WIDTH, LINE_POINTS = 3.0, 33

# What a bar's bush is made of where it is not rubber.
BLOCKS = {JointKind.POLY_BUSH: Material.POLY, JointKind.PLAIN_SLEEVE: Material.BRONZE}


def bar_shape(bar: Bar, mechanism: Mechanism) -> list[Drawn]:
    """Two arms, the middle on the left one with a line that winds to the right one, and saddles."""
    left, right = (pivot.at for pivot in bar.pivots)
    radius, length, axis = 0.5 * bar.diameter, float(norm(right - left)), unit(right - left)
    drawn: list[Drawn] = [piece(bar.arms[0], Material.BAR, rod(left, right, radius, 0.0), label=bar.name)]
    for number, arm in enumerate(bar.arms):
        line = rounded(bar_line(bar, number, mechanism), 2.5 * bar.diameter)
        drawn.append(piece(arm, Material.BAR, Tube(line, radius)))
        where = f"bracket of {bar.name}, {bar.pivots[number].place}"
        block = BLOCKS.get(bar.pivots[number].joint.kind, Material.RUBBER)
        drawn += saddle(bar.on, bar.pivots[number].at, axis, radius, mechanism, where, block)
    share = np.linspace(0.0, 1.0, LINE_POINTS)[:, None]
    path = left + share * (right - left) + (radius + 0.2 * LINE_WIDTH) * _upward(axis)
    stripe = WoundSolid(
        label=bar.name,
        material=Material.MARK,
        near=bar.arms[0],
        far=bar.arms[1],
        origin=left,
        axis=axis,
        span=(0.0, length),
        lengthwise=True,
        far_turn=np.eye(3),
        solids=(Rail(path, (LINE_WIDTH, LINE_WIDTH)),),
    )
    return [*drawn, stripe]


def _upward(axis: Array) -> Array:
    """The direction (3,) square to a bar that is nearest to half up and half forward, where most views see it."""
    up = across(np.array([1.0, 0.0, 1.0]), axis)
    return unit(up) if norm(up) > 1e-6 else square_to(axis)
