"""Points that lie far from all others, as one does that was typed in another unit or with a digit too many."""

from __future__ import annotations

import numpy as np

from model.spatial import norm
from model.units import Length
from model.workbench import Workbench

# In plausible scenes no point lies further out than three times as far as half of them do, not even a gearbox or a
# frame rail's end; a point in mm among points in inches lies some 25 times as far out.
FAR = 8.0
# Of fewer points than this no two need be near each other.
FEWEST = 6
# Where half of them lie nearer together than this, in mm, they are no measure of anything.
NEAREST = 20.0


def check_points(bench: Workbench) -> None:
    """Complain of points that lie far from all others."""
    scene = bench.scene
    if len(scene.points) < FEWEST:
        return
    places = np.array(list(scene.points.values()))
    # Those written for the left stand on the right too.
    both = np.concatenate([places, places * [1.0, -1.0, 1.0]])
    middle = np.median(both, axis=0)
    usual = float(np.median(norm(both - middle)))
    if usual * bench.mm < NEAREST:
        return
    for name, out in zip(scene.points, norm(places - middle).tolist(), strict=True):
        if out > FAR * usual:
            slip = ", or divide it by 25.4 if it is in mm" if scene.units is Length.INCH else " for a digit too many"
            bench.names.complain(
                f"[points] {name}",
                f"lies {out:,.0f} {scene.units} from the middle of all points, half of which lie within "
                f"{usual:,.0f} {scene.units}; check it{slip}.",
            )
