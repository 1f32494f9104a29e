"""Wheels that turn to glass: a smooth pale shell and thin outlines, so that what is behind stays easy to see."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from model.mechanism import Wheel
from model.meshes import mesh_of
from model.solids import Material, PartSolids, Prism
from model.spatial import Array
from model.triangles import joined
from model.wheelshapes import grown_tyre
from viz import style
from viz.contours import revolved_outline
from viz.shapes import shaded_data
from viz.studio import Actor, add_actor, place
from viz.sweptspace import add_outline

# How solid a wheel of glass is: enough of the tyre to see where it is, of the rim to see it turn.
SHELL, REST = 0.13, {Material.RIM: 0.12}
OTHERS = 0.25
# In a close-up the wheel is all around and stays only as a hint.
CLOSE = 0.05
# Its outline's width in px.
LINE = 1.0


@dataclass(frozen=True)
class _Pane:
    """What shows one wheel as glass, beside the actors that show it whole."""

    wheel: Wheel
    shell: Actor
    outlines: tuple[Actor, ...]
    whole: tuple[tuple[Material, Actor], ...]


class GlassWheels:
    """The wheels of a mechanism, each whole or of glass, in a plotter."""

    def __init__(self, plotter: Any, wheels: Iterable[Wheel], drawn: Iterable[tuple[PartSolids, Actor]]) -> None:
        """Take in what is `drawn` of the wheels; all of them are whole."""
        drawn = list(drawn)
        self._panes = [
            _pane(plotter, wheel, [pair for pair in drawn if pair[0].label == wheel.name]) for wheel in wheels
        ]
        for pane in self._panes:
            self._set(pane, glass=False, close=False)

    def turn(self, glass: Iterable[str], *, close: bool) -> None:
        """Turn the wheels named to glass and make the others whole; a `close` look leaves only a hint of them."""
        names = set(glass)
        for pane in self._panes:
            self._set(pane, glass=pane.wheel.name in names, close=close)

    def move(self, now: Mapping[str, Array]) -> None:
        """Move what is glass to where its parts are: matrices (4, 4) by part."""
        for pane in self._panes:
            for actor in (pane.shell, *pane.outlines):
                place(actor, now[pane.wheel.on])

    def _set(self, pane: _Pane, *, glass: bool, close: bool) -> None:
        pane.shell.visibility = glass
        pane.shell.prop.opacity = CLOSE if close else SHELL
        for outline in pane.outlines:
            outline.visibility = glass and not close
        for material, actor in pane.whole:
            actor.visibility = not (glass and material is Material.TYRE)
            actor.prop.opacity = 1.0 if not glass else CLOSE if close else REST.get(material, OTHERS)


def _pane(plotter: Any, wheel: Wheel, drawn: list[tuple[PartSolids, Actor]]) -> _Pane:
    # The tyre as it would be with closed grooves, which would only make many lines.
    ring = grown_tyre(replace(wheel, growth=0.0))
    # The rim's barrel is all round and shows by its gloss; the outlines of its spokes and hub show how it turns.
    rims = (solid for part, _ in drawn if part.material is Material.RIM for solid in part.solids)
    spokes = joined(mesh_of(solid) for solid in rims if isinstance(solid, Prism))
    shell = add_actor(plotter, shaded_data(mesh_of(ring)), style.FINISHES[Material.TYRE])
    rim = add_outline(plotter.renderer, spokes, LINE)
    outlines = (revolved_outline(plotter.renderer, ring, LINE), rim)
    for outline in outlines:
        outline.prop.opacity = 0.55
    return _Pane(wheel, shell, outlines, tuple((part.material, actor) for part, actor in drawn))
