"""poses: where everything is in every pose."""

from __future__ import annotations

from viz.app import app
from viz.calls import STEER_STEPS, WHEEL_STEPS, load, solve_grid
from viz.options import Output, SceneFile, SteerSteps, VariantName, WheelSteps
from viz.progress import Bar
from viz.terminal import show_written


@app.command(short_help="Write where every part and point is in every pose.")
def poses(
    scene: SceneFile,
    output: Output,
    variant: VariantName = None,
    wheel_steps: WheelSteps = WHEEL_STEPS,
    steer_steps: SteerSteps = STEER_STEPS,
) -> None:
    """Write every part's 4x4 transform and every point's position in every pose (.npz or .json).

    A transform takes a ride-height position to the pose; lengths are in mm.
    """
    from viz.files import check_suffix, path_text
    from viz.posefile import FORMATS, write_poses

    check_suffix(output, FORMATS)
    mechanism, _ = load(scene, None, output, variant)
    solved = solve_grid(mechanism, wheel_steps, steer_steps)
    with Bar("writing") as bar:
        write_poses(solved, path_text(scene), output, bar)
    show_written(output, f"{len(solved):,} poses")
