"""What a suspension does over its travel, as named curves over poses: camber, toe, motion ratio, wheel rate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from model.axlecurves import axle_curves, shaft_curves
from model.curvenames import Amount, Curve
from model.poses import Poses, Status
from model.springcurves import spring_curves
from model.tangents import velocities
from model.wheelcurves import steering_curves, wheel_curves
from model.wheelmotion import wheel_motions

__all__ = ["Amount", "Curve", "curve", "curves"]


def curves(poses: Poses, wheelbase: float | None = None) -> tuple[Curve, ...]:
    """Every curve of a scene over N poses; NaN in poses that lock.

    With the wheelbase in mm also how steered wheels point in a turn.
    """
    solved = np.flatnonzero(poses.status == Status.SOLVED)
    if len(solved) == 0:
        return ()
    whole = len(solved) == len(poses)
    found = tuple(_measured(poses if whole else poses.take(solved), wheelbase))
    if whole:
        return found
    spread = np.full((len(found), len(poses)), np.nan)
    spread[:, solved] = [each.values for each in found]
    return tuple(replace(each, values=values) for each, values in zip(found, spread, strict=True))


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
    velocity = velocities(poses)
    wheels = wheel_motions(poses, velocity)
    yield from wheel_curves(poses, velocity, wheels)
    if wheelbase is not None:
        yield from steering_curves(poses, wheels, wheelbase)
    yield from axle_curves(poses, velocity, wheels)
    yield from spring_curves(poses, velocity, wheels)
    yield from shaft_curves(poses)
