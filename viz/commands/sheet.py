"""sheet: the page to hold under the car."""

from __future__ import annotations

from viz.app import app
from viz.calls import STEER_STEPS, WHEEL_STEPS, load, reviewed
from viz.options import Output, Quick, SceneFile, SteerSteps, Units, VariantName, WheelSteps
from viz.terminal import show_written


@app.command(short_help="Write the sheet to hold under the car.")
def sheet(
    scene: SceneFile,
    output: Output,
    variant: VariantName = None,
    units: Units = None,
    quick: Quick = False,
    wheel_steps: WheelSteps = WHEEL_STEPS,
    steer_steps: SteerSteps = STEER_STEPS,
) -> None:
    """Write the sheet to hold under the car before final torque (.html): print it on A4 or Letter.

    What to set at ride height, every joint with its fastener, angle, range and limit, the torque as your scene gives
    it, and boxes to tick.
    """
    from viz.files import check_suffix, path_text
    from viz.sheet import write_sheet

    check_suffix(output, {".html": ""})
    mechanism, length = load(scene, units, output, variant)
    found = reviewed(mechanism, wheel_steps, steer_steps, gaps=not quick, beyond=False)
    write_sheet(found, path_text(scene), output, units=length)
    show_written(output, f"{len(found.verdict.findings)} findings")
