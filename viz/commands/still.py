"""still: one pose as a picture."""

from __future__ import annotations

from viz.app import app
from viz.calls import gap_looked_at, load, one_pose, pixels, pose_words, swept_space
from viz.options import Bump, Left, Output, Right, Roll, SceneFile, Size, Steer, Swept, Units, View, Worst
from viz.terminal import show_written


@app.command(short_help="Draw one pose as a picture.")
def still(
    scene: SceneFile,
    output: Output,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    worst: Worst = False,
    view: View = "three-quarter",
    swept: Swept = None,
    size: Size = "1600x1000",
    units: Units = None,
) -> None:
    """Draw one pose as a picture (.png), with what is over its limit marked and named."""
    from model.findings import judge

    size_in_px = pixels(size)
    mechanism, length = load(scene, units, output)
    of_gap = view.startswith("gap:")
    posed = one_pose(mechanism, length, bump, roll, left, right, steer, worst=worst and not of_gap, view=view)
    posed, marks = gap_looked_at(mechanism, view, posed, worst=worst) if of_gap else (posed, [])
    space = None if swept is None else (swept, swept_space(mechanism, swept))
    from viz.still import write_still

    write_still(posed, judge(posed), output, view=view, size=size_in_px, units=length, gaps=marks, swept=space)
    show_written(output, pose_words(posed, length))
