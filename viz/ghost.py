"""A ghost of ride height: every part that moves as it stands there, pale and see-through, and a frame of glass."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from model.solids import Material, PartSolids
from model.spatial import Array
from viz.studio import Actor, plain_actor

# How solid a ghost is and what colour, and how solid a frame that is seen through.
GHOST, GHOST_COLOUR, GLASS = 0.2, (70, 92, 130), 0.22
# A wheel is so large that less will do, and its rim would only make it cloudy.
GHOST_TYRE = 0.08
# How far it stands behind parts that are where it is, in mm.
BEHIND = 2.0
# What stands still.
FIXED = (Material.FRAME, Material.BRACKET)


class Ghost:
    """The ghost of everything that is drawn in a renderer; made when it is first shown."""

    def __init__(self, renderer: Any, drawn: Iterable[tuple[PartSolids, Actor]], wheels: Iterable[str] = ()) -> None:
        """Begin without one. At ride height no part is moved at all: a ghost shares its part's mesh."""
        names = set(wheels)
        self._renderer = renderer
        self._drawn = [
            (solids, actor)
            for solids, actor in drawn
            if solids.material not in FIXED and (solids.label not in names or solids.material is Material.TYRE)
        ]
        self._actors: list[Actor] = []
        self.shown = False

    def show(self, on: bool) -> None:
        """Show it, or not."""
        self.shown = on
        if on and not self._actors:
            self._actors = [_ghost(solids, actor) for solids, actor in self._drawn]
            for actor in self._actors:
                self._renderer.AddActor(actor)
        for actor in self._actors:
            actor.visibility = on

    def stand_back(self, direction: Array) -> None:
        """Keep it just behind parts that stand where it does, seen from a direction (3,): else both would flicker."""
        for actor in self._actors:
            actor.position = -BEHIND * direction


def see_through(drawn: Iterable[tuple[PartSolids, Actor]]) -> None:
    """Turn the frame and its brackets to glass; to be done again after a stage is aimed."""
    for solids, actor in drawn:
        if solids.material in FIXED:
            actor.prop.opacity = GLASS


def _ghost(solids: PartSolids, actor: Actor) -> Actor:
    # Not the actor's own mapper, which would take on the ghost's plain shading.
    ghost = plain_actor(actor.GetMapper().GetInput(), GHOST_COLOUR)
    ghost.prop.opacity = GHOST_TYRE if solids.material is Material.TYRE else GHOST
    ghost.prop.culling = "back"
    return ghost
