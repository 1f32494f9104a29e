"""What several commands do alike: read a scene, solve its travel and review it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from model.errors import CallError
from model.units import Length
from viz.progress import Bar

if TYPE_CHECKING:
    from model.mechanism import Mechanism
    from model.poses import Poses
    from model.review import Review
    from model.scene import Scene

# What is kept of all poses, in bytes: five million of a front suspension. Solving and judging them take three times as
# much, some 7 GB; beyond, the machine may stop rather than the program.
MOST_KEPT = 2_250_000_000
# Steps of the travel where no others are asked for.
WHEEL_STEPS, STEER_STEPS = 21, 11


def load(
    scene: Path, units: Length | None, output: Path | None = None, variant: str | None = None
) -> tuple[Mechanism, Length]:
    """Read and assemble a scene, with one of its variants in it where one is named; every complaint names the file.

    Raises:
        SceneError: with every mistake in the scene.
        CallError: if the output to be written is one of the files that the scene is read from, or for a variant that
            the file does not have.

    """
    from model.reading import read_scene
    from viz.files import check_folder

    if output is not None:
        check_folder(output)
    record = read_scene(scene, variant)
    return assembled(record, scene, output, variant), units or record.units


def assembled(record: Scene, scene: Path, output: Path | None = None, variant: str | None = None) -> Mechanism:
    """Assemble a scene that was read from the file `scene`; arguments and errors as of `load`."""
    from model.assembly import assemble
    from model.errors import SceneError
    from model.variants import told
    from viz.files import path_text, spare

    if output is not None:
        meshes = [shape.mesh for shape in record.frame.values()] + [mesh.file for mesh in record.mesh.values()]
        spare(output, [scene, *(Path(mesh) for mesh in meshes if mesh is not None)])
    try:
        return assemble(record)
    except SceneError as error:
        complaints = told(error.complaints, record.variant, variant)
        raise SceneError([f"{path_text(scene)}: {complaint}" for complaint in complaints]) from None


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
