"""Actors of what changes shape with the pose: springs, hoses, wound rubber. Triangles stay, points move.

What bends alike bends in one pass over arrays; each writes the new points into where they are drawn from.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from model.bars import skin_of, swept_sections
from model.flexing import arc_line, knot_weights, spring_line, wound_knots, wound_shares
from model.meshes import WIRE_SIDES, Matrices, mesh_of, places_of, pliant_mesh, sections_of
from model.solids import HoseSolid, Material, Pliant, SpringSolid, WoundSolid
from model.spatial import Array, across, norm, unit
from model.triangles import Faces, Mesh, joined
from viz import style
from viz.shapes import poly_data, shaded
from viz.studio import Actor, add_actor

Numbers = NDArray[np.intp]


class PliantActor:
    """One pliant solid in a plotter, drawn from arrays that are written into."""

    def __init__(self, plotter: Any, solid: Pliant, skin: Mesh, normals: Array, precision: Any = np.float64) -> None:
        """Draw it as it is, with its unit normals (n, 3)."""
        self.solid, self.faces = solid, skin.faces
        self.points, self.normals = skin.points.astype(precision, "C"), normals.astype(precision, "C")
        data = poly_data(Mesh(self.points, self.faces), self.normals)
        self.actor: Actor = add_actor(plotter, data, style.FINISHES[solid.material])
        self._told = data.GetPoints(), data.GetPointData().GetNormals()
        self._colour = style.FINISHES[solid.material].colour

    def moved(self) -> None:
        """Tell the library that the arrays have been written to."""
        for array in self._told:
            array.Modified()

    def colour(self, colour: style.Colour) -> None:
        """Take a colour."""
        if colour != self._colour:
            self._colour = colour
            self.actor.prop.color = style.fraction(colour)


class _Group(Protocol):
    """Solids that bend in one pass."""

    drawn: list[PliantActor]

    def bend(self, which: Numbers, near: Array, far: Array) -> None:
        """Bend some, by their numbers (w,), to where the parts at their two ends are: (w, 4, 4) each."""


class Pliants:
    """Everything pliant in a plotter."""

    def __init__(self, plotter: Any, solids: Iterable[Pliant], now: Matrices) -> None:
        """Build it as it is with its parts where they are `now`."""
        alike: dict[tuple[Any, ...], list[Pliant]] = {}
        for solid in solids:
            alike.setdefault(_kind(solid), []).append(solid)
        self._groups = [_group(plotter, group, now) for group in alike.values()]
        self.actors = [actor for group in self._groups for actor in group.drawn]
        self._ends = [[actor.solid.holders for actor in group.drawn] for group in self._groups]
        self._stood = [_standing(ends, now) for ends in self._ends]
        for group, stood in zip(self._groups, self._stood, strict=True):
            group.bend(np.arange(len(stood)), stood[:, 0], stood[:, 1])

    def show(self, now: Matrices, wound_share: Callable[[Pliant], float]) -> None:
        """Bend what has been moved; rubber takes the colour of its wind-up's share of its limit."""
        for group, ends, stood in zip(self._groups, self._ends, self._stood, strict=True):
            standing = _standing(ends, now)
            which = np.flatnonzero((standing != stood).any(axis=(1, 2, 3)))
            if len(which):
                stood[which] = standing[which]
                group.bend(which, standing[which, 0], standing[which, 1])
                for number in which:
                    group.drawn[number].moved()
        for actor in self.actors:
            solid = actor.solid
            if isinstance(solid, WoundSolid) and solid.joint is not None and solid.material is Material.RUBBER:
                actor.colour(style.wound_colour(wound_share(solid)))


class _Springs:
    """Springs of one wire, coils and width."""

    def __init__(self, plotter: Any, solids: Sequence[SpringSolid], now: Matrices) -> None:
        self._plain = solids[0]
        self._seats = np.array([(solid.top, solid.bottom) for solid in solids])
        self.drawn = [_as_it_is(plotter, solid, now) for solid in solids]

    def bend(self, which: Numbers, near: Array, far: Array) -> None:
        top, bottom = (_carried(way, self._seats[which, end]) for end, way in enumerate((near, far)))
        line = spring_line(self._plain, top, bottom)
        facing = across(line - bottom[:, None], unit(top - bottom)[:, None])
        _skin(self.drawn, which, line, np.full(len(which), self._plain.wire_radius), WIRE_SIDES, facing)


class _Hoses:
    """Round hoses, or stretches of them, with as many corners around."""

    def __init__(self, plotter: Any, solids: Sequence[HoseSolid], now: Matrices) -> None:
        self._sides = sections_of(solids[0].radius)
        self._ends = np.array([solid.ends for solid in solids])
        self._length, self._radius = np.array([(solid.length, solid.radius) for solid in solids]).T
        self._sag = np.array([solid.sag for solid in solids])
        self.drawn = [_as_it_is(plotter, solid, now) for solid in solids]
        count = len(self.drawn[0].points) // self._sides
        self._share = np.array([np.linspace(*solid.stretch, count) for solid in solids])

    def bend(self, which: Numbers, near: Array, far: Array) -> None:
        ends = (_carried(way, self._ends[which, end]) for end, way in enumerate((near, far)))
        line = arc_line(self._length[which], self._sag[which], self._share[which], *ends)
        _skin(self.drawn, which, line, self._radius[which], self._sides)


class _Straps:
    """Flat webbing, of which there is little."""

    def __init__(self, plotter: Any, solids: Sequence[HoseSolid], now: Matrices) -> None:
        self.drawn = [_as_it_is(plotter, solid, now) for solid in solids]
        self._touching = [_touching(actor.faces) for actor in self.drawn]

    def bend(self, which: Numbers, near: Array, far: Array) -> None:
        for number, *ways in zip(which, near, far, strict=True):
            actor = self.drawn[number]
            now = dict(zip(actor.solid.holders, ways, strict=True))
            actor.points[:] = pliant_mesh(actor.solid, places_of(now)).points
            a, b, c = (actor.points[actor.faces[:, corner]] for corner in range(3))
            actor.normals[:] = _unit(self._touching[number] @ _unit(np.cross(b - a, c - a)))


class _Wound:
    """Rubber: a vertex is blended from where the turns at a few shares of the way through the rubber take it."""

    def __init__(self, plotter: Any, solids: Sequence[WoundSolid]) -> None:
        self._frames = [np.array([getattr(each, name) for each in solids]) for name in ("origin", "axis", "far_turn")]
        self.drawn, self._blends = [], []
        for solid in solids:
            # Its edges are sharp: they are found once, and turn with the points.
            points, normals, faces = shaded(joined(mesh_of(part) for part in solid.solids))
            weights = knot_weights(wound_shares(solid, points))[:, :, None]
            offset = np.column_stack([points - solid.origin, np.ones(len(points))])
            # As BLAS reads them fastest, and as finely as they are drawn: a ten-thousandth of a mm.
            blends = ((weights * v[:, None]).reshape(len(v), -1) for v in (offset, normals))
            self._blends.append(tuple(np.asfortranarray(blend, np.float32) for blend in blends))
            self.drawn.append(PliantActor(plotter, solid, Mesh(points, faces), normals, np.float32))

    def bend(self, which: Numbers, near: Array, far: Array) -> None:
        origin, axis, far_turn = (frame[which] for frame in self._frames)
        start, stop = ((way[:, :3, :3], way[:, :3, 3]) for way in (near, far))
        moves = wound_knots(origin, axis, far_turn, start, stop).astype(np.float32)
        turns = moves[:, :, :3].reshape(len(which), -1, 3)
        moves = moves.reshape(len(which), -1, 3)
        for number, move, turn in zip(which, moves, turns, strict=True):
            actor, (points, normals) = self.drawn[number], self._blends[number]
            np.matmul(points, move, out=actor.points)
            np.matmul(normals, turn, out=actor.normals)


def _kind(solid: Pliant) -> tuple[Any, ...]:
    """What solids that bend in one pass have in common."""
    match solid:
        case SpringSolid():
            return SpringSolid, solid.mean_radius, solid.wire_radius, solid.coils
        case HoseSolid():
            return HoseSolid, sections_of(solid.radius) if solid.width is None else None
        case WoundSolid():
            return (WoundSolid,)


def _group(plotter: Any, solids: list[Any], now: Matrices) -> _Group:
    match solids[0]:
        case SpringSolid():
            return _Springs(plotter, solids, now)
        case HoseSolid(width=None):
            return _Hoses(plotter, solids, now)
        case HoseSolid():
            return _Straps(plotter, solids, now)
    return _Wound(plotter, solids)


def _as_it_is(plotter: Any, solid: Pliant, now: Matrices) -> PliantActor:
    """A solid drawn with its parts where they are; its normals are still to be found."""
    mesh = pliant_mesh(solid, places_of(now))
    return PliantActor(plotter, solid, mesh, np.zeros_like(mesh.points))


def _standing(ends: Iterable[tuple[str, str]], now: Matrices) -> Array:
    """Where the two parts of each are, (w, 2, 4, 4)."""
    return np.array([(now[near], now[far]) for near, far in ends])


def _carried(ways: Array, points: Array) -> Array:
    """Where matrices (w, 4, 4) take points (w, 3)."""
    return np.asarray(np.einsum("wij,wj->wi", ways[:, :3, :3], points) + ways[:, :3, 3])


def _skin(
    drawn: list[PliantActor], which: Numbers, line: Array, radius: Array, sides: int, facing: Array | None = None
) -> None:
    """Give round bars about middle lines (w, k, 3) their points and normals."""
    points, normals = skin_of(line, radius, swept_sections(line, sides, facing))
    for number, at, out in zip(which, points, normals, strict=True):
        drawn[number].points[:], drawn[number].normals[:] = at, out


def _unit(vectors: Array) -> Array:
    """Directions of vectors (n, 3); of none that is zero is any made up."""
    size = norm(vectors)
    return np.asarray(vectors / np.where(size > 0.0, size, 1.0)[:, None])


def _touching(faces: Faces) -> Any:
    """Sparse matrix that sums over the triangles (m, 3) which touch each vertex: the same in every pose."""
    from scipy.sparse import csr_array

    corners, count = faces.ravel(), len(faces)
    return csr_array((np.ones(3 * count), (corners, np.repeat(np.arange(count), 3))), (int(faces.max()) + 1, count))
