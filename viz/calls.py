"""What several commands do alike: read a scene, solve its travel, choose a pose, a gap or a swept space."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from model.errors import CallError
from model.units import Length
from viz.progress import Bar

if TYPE_CHECKING:
    from model.clearance import Clearance
    from model.mechanism import Mechanism
    from model.poses import Poses
    from model.review import Review
    from model.travel import Travel
    from model.triangles import Mesh
    from viz.gaps import GapMark

# What is kept of all poses, in bytes: five million of a front suspension. Solving and judging them take three times as
# much, some 7 GB; beyond, the machine may stop rather than the program.
MOST_KEPT = 2_250_000_000
# Inches are printed to two decimals: half of the last is 0.127 mm.
ROUNDING = 0.13
# Steps of the travel where no others are asked for.
WHEEL_STEPS, STEER_STEPS = 21, 11
# The view where no other is asked for.
PLAIN_VIEW = "three-quarter"
# Steps of the travel for one gap or a swept space: between them the search goes on, or the space is joined up.
GAP_WHEEL_STEPS, GAP_STEER_STEPS = 11, 9


def load(scene: Path, units: Length | None, output: Path | None = None) -> tuple[Mechanism, Length]:
    """Read and assemble a scene; every complaint names the file.

    Raises:
        SceneError: with every mistake in the scene.
        CallError: if the output to be written is one of the files that the scene is read from.

    """
    from model.assembly import assemble
    from model.errors import SceneError
    from model.reading import read_scene
    from viz.files import check_folder, path_text, spare

    if output is not None:
        check_folder(output)
    record = read_scene(scene)
    if output is not None:
        meshes = [shape.mesh for shape in record.frame.values()] + [mesh.file for mesh in record.mesh.values()]
        spare(output, [scene, *(Path(mesh) for mesh in meshes if mesh is not None)])
    try:
        return assemble(record), units or record.units
    except SceneError as error:
        raise SceneError([f"{path_text(scene)}: {complaint}" for complaint in error.complaints]) from None


def solve_grid(mechanism: Mechanism, wheel_steps: int, steer_steps: int) -> Poses:
    """Solve every combination of wheel heights and steering.

    Raises:
        CallError: for steps that cannot be.

    """
    from model.loads import bytes_per_pose
    from model.solver import solve
    from model.travel import grid

    count = 1
    for option, steps in (("--wheel-steps", wheel_steps), ("--steer-steps", steer_steps)):
        if steps < 3 or steps % 2 == 0:
            raise CallError(
                f"{option} is {steps}, expected an odd number from 3 on, so that ride height is among them; "
                f"take {max(3, steps + 1)}."
            )
        count *= steps ** sum((drive.name == "steer") == (option == "--steer-steps") for drive in mechanism.drives)
    most = MOST_KEPT // bytes_per_pose(mechanism)
    if count > most:
        raise CallError(
            f"these steps make {count:.2g} poses, expected {most:.2g} of this scene at most; take fewer steps."
        )
    with Bar("solving") as bar:
        return solve(mechanism, grid(mechanism, wheel_steps, steer_steps), bar)


def one_pose(
    mechanism: Mechanism,
    length: Length,
    bump: float,
    roll: float,
    left: float | None,
    right: float | None,
    steer: float,
    *,
    worst: bool,
    view: str = "",
) -> Poses:
    """The pose that the options ask for, solved."""
    from model.solver import solve

    if worst:
        nothing_by_hand(bump, roll, left, right, steer)
        return _worst(mechanism, view)[0]
    return solve(mechanism, _hand_pose(mechanism, length, bump, roll, left, right, steer))


def nothing_by_hand(bump: float, roll: float, left: float | None, right: float | None, steer: float) -> None:
    """Complain of a pose that is asked for beside the worst."""
    options = {"--bump": bump or None, "--roll": roll or None, "--left": left, "--right": right}
    by_hand = [name for name, value in (options | {"--steer": steer or None}).items() if value is not None]
    if by_hand:
        raise CallError(
            f"--worst chooses the pose itself and does not go with {', '.join(by_hand)}; use one or the other."
        )


def looked_at(
    mechanism: Mechanism,
    length: Length,
    bump: float,
    roll: float,
    left: float | None,
    right: float | None,
    steer: float,
    *,
    worst: bool,
    view: str,
) -> tuple[Poses, str, list[GapMark]]:
    """The pose that the options ask for, the view of it, and the gaps that are drawn in it.

    The worst finding may be a gap: that is looked at from close by, unless the view is one that was chosen.
    """
    from model.gaps import gap_state
    from viz.gapmarks import gap_mark
    from viz.gaps import view_of

    if view.startswith("gap:"):
        posed = one_pose(mechanism, length, bump, roll, left, right, steer, worst=False)
        posed, marks = _gap_looked_at(mechanism, view, posed, worst=worst)
        return posed, view, marks
    if not worst or view.startswith("joint:"):
        return one_pose(mechanism, length, bump, roll, left, right, steer, worst=worst, view=view), view, []
    nothing_by_hand(bump, roll, left, right, steer)
    posed, gap = _worst(mechanism, view)
    if gap is None:
        return posed, view, []
    mark = gap_mark(gap, gap_state(gap, gap.distance), posed)
    return posed, view_of(mark) if view == PLAIN_VIEW else view, [mark]


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


def _hand_pose(
    mechanism: Mechanism,
    length: Length,
    bump: float,
    roll: float,
    left: float | None,
    right: float | None,
    steer: float,
) -> Travel:
    from model.travel import single

    if (bump or roll) and (left is not None or right is not None):
        raise CallError("--bump and --roll do not go with --left and --right; use one pair or the other.")
    drives = {drive.name: drive for drive in mechanism.drives}
    for name, value in (("left", left), ("right", right), ("steer", steer or None)):
        if value is not None and name not in drives:
            what = "steering" if name == "steer" else f"{name} wheel"
            raise CallError(f"--{name} moves the {what}, which this scene does not have; leave --{name} out.")
    heights = {"left": bump + roll if left is None else left, "right": bump - roll if right is None else right}
    asked = {name: value * length.mm for name, value in heights.items() if name in drives}
    for name, value in asked.items():
        low, high = drives[name].low, drives[name].high
        # What a person rounds to print and types again is still inside.
        if not low - ROUNDING <= value <= high + ROUNDING:
            raise CallError(
                f"the {name} wheel would be at {length.text(value)}, outside its travel from {length.text(low)} to "
                f"{length.text(high)}; choose a height inside it or widen [travel] in the scene."
            )
        asked[name] = min(max(value, low), high)
    if not -100.0 <= steer <= 100.0:
        raise CallError(f"--steer is {steer:g}, expected -100 (full right lock) to 100 (full left lock) percent.")
    return single(mechanism, **asked, **({"steer": steer / 100.0} if steer else {}))


def pose_words(poses: Poses, length: Length) -> str:
    """The pose that was drawn or written, in words."""
    from model.findings import pose_text

    return pose_text(poses.travel.names, poses.stands_at(0), length)


def pixels(text: str) -> tuple[int, int]:
    """Width and height of a size such as 1600x1000."""
    width, _, height = text.lower().partition("x")
    if not all(side.isascii() and side.isdecimal() and len(side) <= 5 for side in (width, height)):
        raise CallError(f'--size is "{text}", expected WIDTHxHEIGHT in pixels, such as 1600x1000.')
    return int(width), int(height)


def reviewed(mechanism: Mechanism, wheel_steps: int, steer_steps: int, *, gaps: bool, beyond: bool) -> Review:
    """Solve the travel, judge it and, unless they are left out, measure the gaps between parts."""
    from model.review import review

    if not gaps and (mechanism.own_meshes or any(shape.mesh is not None for shape in mechanism.shapes)):
        from model.envelopes import measured_parts

        measured_parts(mechanism)  # a mesh file that is not right is told of all the same
    poses = solve_grid(mechanism, wheel_steps, steer_steps)
    with Bar("judging") as judging, Bar("measuring gaps") as measuring:
        return review(poses, judging, beyond=beyond, gaps=gaps, measuring=measuring)


def _gap_looked_at(mechanism: Mechanism, view: str, posed: Poses, *, worst: bool) -> tuple[Poses, list[GapMark]]:
    """The gap that a view `gap:A, B` is of, in the pose asked for or where it is smallest, and that pose."""
    import numpy as np

    from model.clearance import clearances
    from model.envelopes import measured_parts
    from model.gaps import gap_state
    from model.solver import solve
    from model.travel import Travel
    from viz.gapmarks import gap_mark
    from viz.gaps import pair_named

    parts = measured_parts(mechanism)
    pair = pair_named(view, dict.fromkeys(part.label for part in parts))
    chosen = tuple(part for part in parts if part.label in pair)
    poses = solve_grid(mechanism, GAP_WHEEL_STEPS, GAP_STEER_STEPS) if worst else posed
    with Bar("measuring gaps") as bar:
        found = clearances(poses, chosen, bar, refine=worst)
    mine = next((each for each in found if set(each.labels) == set(pair)), None)
    if mine is None:
        raise CallError(
            f"{pair[0]} and {pair[1]} stay well apart or are not measured against each other; look at another gap."
        )
    if worst:
        posed = solve(mechanism, Travel(poses.travel.names, np.array([mine.drives])))
    return posed, [gap_mark(mine, gap_state(mine, mine.distance), posed)]


def swept_space(mechanism: Mechanism, part: str) -> Mesh:
    """The space that a part needs over the whole travel."""
    from model.sweeps import swept_mesh

    poses = solve_grid(mechanism, GAP_WHEEL_STEPS, GAP_STEER_STEPS)
    with Bar("sweeping") as bar:
        return swept_mesh(poses, part, progress=bar)
