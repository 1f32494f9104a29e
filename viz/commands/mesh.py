"""mesh: the parts, or the space that one sweeps, as a 3D model."""

from __future__ import annotations

from viz.app import app
from viz.calls import load, one_pose, pose_words, swept_space
from viz.options import Bump, Left, Output, Right, Roll, SceneFile, Steer, Swept, Units, Worst
from viz.terminal import show_written


@app.command(short_help="Export the parts in one pose as a 3D model.")
def mesh(
    scene: SceneFile,
    output: Output,
    bump: Bump = 0.0,
    roll: Roll = 0.0,
    left: Left = None,
    right: Right = None,
    steer: Steer = 0.0,
    worst: Worst = False,
    swept: Swept = None,
    units: Units = None,
) -> None:
    """Export the parts in one pose (.glb, .obj with names; .stl, .ply as one mesh), or with --swept a swept space.

    A .glb is in metres with y up, as glTF wants it; the others are in mm with z up.
    """
    mechanism, length = load(scene, units, output)
    posed = one_pose(mechanism, length, bump, roll, left, right, steer, worst=worst)
    from viz.mesh import check_format, write_mesh, write_swept

    if swept is not None:
        check_format(output)
        write_swept(swept_space(mechanism, swept), mechanism.title, swept, output)
        show_written(output, f"the space that {swept} needs over the whole travel")
        return
    write_mesh(posed, output)
    show_written(output, pose_words(posed, length))
