"""What a picture looks at: one pose, the worst of all, a gap, a swept space."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from model.errors import CallError
from model.units import Length
from viz.asked import Asked, travel_asked
from viz.calls import STEER_STEPS, WHEEL_STEPS, reviewed, solve_grid
from viz.progress import Bar

if TYPE_CHECKING:
    from model.clearance import Clearance
    from model.envelopes import MeasuredPart
    from model.mechanism import Mechanism
    from model.poses import Poses
    from model.triangles import Mesh
    from viz.gaps import GapMark

# The view where no other is asked for.
PLAIN_VIEW = "three-quarter"
# Steps of the travel for one gap or a swept space: between them the search goes on, or the space is joined up.
GAP_WHEEL_STEPS, GAP_STEER_STEPS = 11, 9


def one_pose(mechanism: Mechanism, length: Length, asked: Asked, view: str = "") -> Poses:
    """The pose that is asked for, solved."""
    from model.solver import solve

    asked.check()
    return _worst(mechanism, view)[0] if asked.worst else solve(mechanism, travel_asked(asked, mechanism, length))


def looked_at(mechanism: Mechanism, length: Length, asked: Asked, view: str) -> tuple[Poses, str, list[GapMark]]:
    """The pose that is asked for, the view of it, and the gaps that are drawn in it.

    The worst finding may be a gap: that is looked at from close by, unless the view is one that was chosen.
    """
    asked.check()
    if view.startswith("gap:"):
        if asked.worst:
            posed, mark = _smallest(mechanism, view)
        else:
            posed = one_pose(mechanism, length, asked)
            mark = gaps_of_each(posed, view)(0)[0]
        return posed, view, [mark]
    if not asked.worst or view.startswith("joint:"):
        return one_pose(mechanism, length, asked, view), view, []
    posed, gap = _worst(mechanism, view)
    if gap is None:
        return posed, view, []
    from model.gaps import gap_state
    from viz.gapmarks import gap_mark
    from viz.gaps import view_of

    mark = gap_mark(gap, gap_state(gap, gap.distance), posed)
    return posed, view_of(mark) if view == PLAIN_VIEW else view, [mark]


def gaps_of_each(posed: Poses, view: str) -> Callable[[int], list[GapMark]]:
    """What gives the gap that a view `gap:A, B` is of in each pose, however wide it is there.

    Raises:
        CallError: the two are not measured against each other.

    """
    import numpy as np

    from model.clearance import clearances
    from model.gaps import gap_state
    from model.placing import Shapes
    from viz.gapmarks import gap_mark

    pair, parts = _pair(posed.mechanism, view)
    shapes = Shapes(parts)

    def gaps(number: int) -> list[GapMark]:
        alone = posed.take(np.array([number]))
        found = clearances(alone, shapes, refine=False, between={frozenset(pair)}, reach=np.inf)
        if not found:
            raise CallError(f"{pair[0]} and {pair[1]} are not measured against each other; look at another gap.")
        return [gap_mark(found[0], gap_state(found[0], found[0].distance), alone)]

    return gaps


def _pair(mechanism: Mechanism, view: str) -> tuple[tuple[str, str], tuple[MeasuredPart, ...]]:
    """The names of two parts that a view `gap:A, B` is of, and all that is measured of them."""
    from model.envelopes import measured_parts
    from viz.gaps import pair_named

    parts = measured_parts(mechanism)
    pair = pair_named(view, dict.fromkeys(part.label for part in parts))
    return pair, tuple(part for part in parts if part.label in pair)


def _smallest(mechanism: Mechanism, view: str) -> tuple[Poses, GapMark]:
    """The pose in which the gap that a view is of is smallest, and the gap."""
    import numpy as np

    from model.clearance import clearances
    from model.gaps import gap_state
    from model.solver import solve
    from model.travel import Travel
    from viz.gapmarks import gap_mark

    pair, parts = _pair(mechanism, view)
    poses = solve_grid(mechanism, GAP_WHEEL_STEPS, GAP_STEER_STEPS)
    with Bar("measuring gaps") as bar:
        found = clearances(poses, parts, bar, between={frozenset(pair)})
    if not found:
        raise CallError(
            f"{pair[0]} and {pair[1]} stay well apart or are not measured against each other; look at another gap."
        )
    posed = solve(mechanism, Travel(poses.travel.names, np.array([found[0].drives])))
    return posed, gap_mark(found[0], gap_state(found[0], found[0].distance), posed)


def _worst(mechanism: Mechanism, view: str) -> tuple[Poses, Clearance | None]:
    """The pose of the worst finding, or of the worst of the joint that a view looks at; the gap that it is of, if any.

    Raises:
        CallError: nothing is judged.

    """
    import numpy as np

    from model.gaps import gap_name
    from model.measures import GAP
    from model.solver import solve
    from model.travel import Travel

    joint = view.partition(":")[2] if view.startswith("joint:") else ""
    found = reviewed(mechanism, WHEEL_STEPS, STEER_STEPS, gaps=not joint, beyond=False)
    findings = found.verdict.findings
    if not findings:
        raise CallError("this scene has nothing to judge, so it has no worst pose; leave --worst out.")
    # Of one joint: what changes with the pose, and not, say, how much thread is engaged.
    moving = (one for one in findings if joint and one.where == joint and one.lowest != one.highest)
    worst = next(moving, findings[0])
    posed = solve(mechanism, Travel(found.poses.travel.names, np.array([worst.drives])))
    gaps = found.clearances or () if worst.what == GAP else ()
    return posed, next((gap for gap in gaps if gap_name(gap) == worst.where), None)


def swept_space(mechanism: Mechanism, part: str) -> Mesh:
    """The space that a part needs over the whole travel."""
    from model.sweeps import swept_mesh

    poses = solve_grid(mechanism, GAP_WHEEL_STEPS, GAP_STEER_STEPS)
    with Bar("sweeping") as bar:
        return swept_mesh(poses, part, progress=bar)
