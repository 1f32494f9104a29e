"""One load case as a picture: the suspension in its pose, with the forces as arrows, as a PNG file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from model.errors import CallError
from model.findings import pose_text
from model.forces import CaseLoads
from model.units import Length
from model.verdicts import State
from viz.aids import Aids
from viz.arrows import TO_ALL, TO_THE_FRAME, arrow_ends, arrows_of, draw_arrows, forces_on, mm_per_newton
from viz.files import check_suffix, whole_file
from viz.labels import Scale
from viz.loadwords import SHORT_NOTE
from viz.marks import draw_caption
from viz.stage import Stage
from viz.still import NO_AIDS, PNG_EFFORT, busy_pixels, check_size
from viz.views import is_gap, is_named, joint_name


def write_load_still(
    loads: CaseLoads,
    output: Path,
    *,
    view: str,
    size: tuple[int, int] = (1600, 1000),
    units: Length = Length.MM,
    aids: Aids = NO_AIDS,
) -> int:
    """Draw a load case and return how many of its forces are drawn.

    Args:
        loads: of one case.
        output: a .png file.
        view: one of `viz.views.View`, or joint:NAME, which shows what that part or joint does and has done to it.
        size: width and height in px.
        units: the person's units.
        aids: whether the frame is glass, and the ghost of ride height.

    Raises:
        CallError: the file's suffix, or a view of a gap.
        DrawingError: the size or the view is not one of those, or this machine cannot draw.

    """
    check_suffix(output, {".png": "a picture"})
    check_size(size)
    if is_gap(view):
        raise CallError(f'a load case does not go with the view "{view}"; look at one part or joint, joint:NAME.')
    scale, subject = Scale.of(size), None if is_named(view) else joint_name(view)
    forces, least = forces_on(loads, subject)
    places = np.array([each.at for each in forces])
    with whole_file(output) as temporary:
        with Stage(loads.poses, (size[0], size[1] - scale.caption)) as stage:
            if aids.ghost:
                stage.show_ghost()
            stage.aim(stage.camera(view))
            length = mm_per_newton(forces, float(np.median(stage.pixels_per_mm(places))), stage.size[1])
            ends = arrow_ends(forces, length)
            stage.keep_in_frame(ends.reshape(-1, 3))
            stage.aim(stage.camera(view))
            if aids.glass:
                stage.see_through()
            drawn = stage.picture()
            arrows = arrows_of(forces, stage.project(ends), drawn.size, units)
            grain = length * float(np.median(stage.pixels_per_mm(places)))
        bare = draw_arrows(drawn, arrows, busy_pixels(drawn), grain, units, TO_THE_FRAME if subject is None else TO_ALL)
        picture = Image.new("RGB", size)
        picture.paste(drawn)
        names, stands = loads.poses.travel.names, loads.poses.stands_at(0)
        said = [pose_text(names, stands, units), *aids.words, f"forces under {units.force_text(least)} left out"]
        said += [f"{bare} arrows without a number"] * bool(bare)
        title = f"load case: {loads.case.name}{' (typical)' * loads.case.typical}"
        draw_caption(picture, loads.poses.mechanism.title, "; ".join(said), State.UNJUDGED, title, SHORT_NOTE)
        picture.save(temporary, format="PNG", compress_level=PNG_EFFORT)
    return len(arrows)
