"""What a suspension does over its travel, as named curves over poses: camber, toe, motion ratio, wheel rate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from model.axlecurves import axle_curves, shaft_curves
from model.curvenames import Amount, Curve
from model.poses import Poses
from model.rates import Moving
from model.springcurves import spring_curves
from model.tangents import velocities
from model.wheelcurves import steering_curves, wheel_curves
from model.wheelmotion import wheel_motions

__all__ = ["Amount", "Curve", "curve", "curves"]


def curves(poses: Poses, wheelbase: float | None = None) -> tuple[Curve, ...]:
    """Every curve of a scene over N poses; NaN in poses that lock.

    With the wheelbase in mm also how steered wheels point in a turn.
    """
    found: dict[tuple[str, str], Curve] = {}
    for chosen, part in poses.solved_parts():
        measured = tuple(_measured(part, wheelbase))
        if len(chosen) == len(poses):
            return measured
        for each in measured:
            key = each.what, each.where
            if key not in found:
                found[key] = replace(each, values=np.full(len(poses), np.nan))
            found[key].values[chosen] = each.values
    return tuple(found.values())


def curve(poses: Poses, what: str, where: str = "") -> Curve:
    """One curve by its name and place; without a place the first of that name.

    Raises:
        KeyError: the scene has no such curve.

    """
    for each in curves(poses):
        if each.what == what and where in ("", each.where):
            return each
    raise KeyError(what, where)


def _measured(poses: Poses, wheelbase: float | None) -> Iterator[Curve]:
    """All curves over poses that are solved."""
    moving = Moving(poses, velocities(poses))
    wheels = wheel_motions(moving)
    yield from wheel_curves(moving, wheels)
    if wheelbase is not None:
        yield from steering_curves(poses, wheels, wheelbase)
    yield from axle_curves(moving, wheels)
    yield from spring_curves(moving, wheels)
    yield from shaft_curves(moving)
