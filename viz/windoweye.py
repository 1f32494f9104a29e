"""The window's camera: held by a hand, on a flight, or at rest."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

from model.errors import DrawingError
from model.verdicts import Finding
from viz.gaps import GapMark, view_of
from viz.stage import Stage
from viz.views import UP, Camera, View, perspective
from viz.windowcamera import FLIGHT, between

# Where a picture takes longer than this, in s, a flight would be a few jumps: it is left out.
SLOW = 0.15
# Millimetres about a place that is no joint in a close-up of it.
REACH = 200.0
VIEWS = (View.THREE_QUARTER, View.FRONT, View.SIDE, View.TOP)


class Eye:
    """The camera on a stage, which may be another after the scene was saved."""

    def __init__(self, stage: Stage) -> None:
        """Look at the whole from the front left."""
        self.stage = stage
        self.camera = stage.camera(VIEWS[0])
        self._view = 0
        self._flight: tuple[Camera, Camera, float] | None = None
        self.rest()

    def rest(self) -> None:
        """Stay: wheels that would hide a joint turn to glass."""
        self.stage.aim(self.camera)

    def look(self, camera: Camera) -> None:
        """Hold a camera by hand; what stands in the way is decided when the hand lets go."""
        self._flight = None
        self.camera = replace(camera, close=False, target=None, glass=None, gap=None, pair=(), touches=False)
        self.stage.look(self.camera)

    def let_go(self) -> None:
        """Look from here at the whole again, where a gap was looked at: what was cut away for it comes back."""
        if self.camera.gap is not None:
            self._flight = None
            self.camera = replace(self.camera, target=None, gap=None, pair=(), touches=False)
            self.rest()

    def fly(self, camera: Camera, took: float) -> None:
        """Go to a camera, on a flight where a picture takes little time."""
        if took > SLOW or camera.half_height is not None or self.camera.half_height is not None:
            self._flight, self.camera = None, camera
            self.rest()
        else:
            self._flight = self.camera, camera, time.monotonic()

    def next_view(self, took: float) -> None:
        """Go to the next of the plain views."""
        self._view = (self._view + 1) % len(VIEWS)
        self.fly(self.stage.camera(VIEWS[self._view]), took)

    def tick(self) -> bool:
        """Fly on with time; whether the camera moved."""
        if self._flight is None:
            return False
        start, stop, begun = self._flight
        share = (time.monotonic() - begun) / FLIGHT
        self.camera = between(start, stop, share)
        if share < 1.0:
            self.stage.look(self.camera)
        else:
            self._flight = None
            self.rest()
        return True

    def close_up(self, finding: Finding, gap: GapMark | None) -> Camera:
        """The camera on a finding, which may be a gap, in the pose that is shown."""
        if gap is not None:
            return self.stage.camera(view_of(gap), [gap])
        try:
            return self.stage.camera(f"joint:{finding.where}")
        except DrawingError:  # not a place that has a name of its own
            about = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) / np.sqrt(3.0)
            aspect = self.stage.size[0] / self.stage.size[1]
            around = np.array(finding.at) + REACH * about
            return replace(perspective(self.camera.direction, UP, around, aspect), close=True)
