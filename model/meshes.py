"""Solids as closed triangle meshes: vertices in mm, triangles wound so that their normals point outwards."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import singledispatch

import numpy as np

from model.bars import bar_faces, capped, fan, loop_faces, looped, strip, swept
from model.boxbars import rail_sections
from model.flexing import hose_line, spring_line, wound, wound_shares
from model.icospheres import unit_sphere
from model.meshfiles import mesh_from_file
from model.solids import (
    Ball,
    Bead,
    HoseSolid,
    MeshFile,
    Notched,
    Pliant,
    Prism,
    Rail,
    Revolved,
    Sector,
    Solid,
    SpringSolid,
    Tube,
    WoundSolid,
    rod,
)
from model.spatial import Array, across, norm, square_to, triad, unit
from model.triangles import Mesh, joined

# How far in mm the middle of a chord may lie inside the round surface that it stands for.
CHORD_ERROR = 0.1
# How far inside a sphere of radius 1 the middles of an icosphere's triangles lie, by the number of its subdivisions:
# measured on its meshes. Below three it does not look round.
ICOSPHERE_GAPS = {3: 0.00453, 4: 0.00114, 5: 0.000285}
# Fewest sections of a round thing, so that it looks round; a spring's wire is measured as the cylinder that it fills.
FEWEST, WIRE_SIDES = 24, 14
# The walls of a notch lean by this share of its width.
NOTCH_LEAN = 0.08
# Corners around a weld bead, few but smooth, and how much thinner every other section of it is.
BEAD_SIDES, RIPPLE = 10, 0.8
# Rotation (3, 3) and translation (3,) from ride height of a part, by its name.
Places = Callable[[str], tuple[Array, Array]]
# The same as one matrix (4, 4), or (n, 4, 4) over poses.
Matrices = Mapping[str, Array]


def places_of(now: Matrices) -> Places:
    """Where parts are in one pose."""
    return lambda part: (now[part][:3, :3], now[part][:3, 3])


@singledispatch
def mesh_of(solid: Solid) -> Mesh:
    """The closed mesh of a solid, in ride-height coordinates."""
    raise TypeError(f"no mesh for {type(solid).__name__}")


@mesh_of.register
def _(solid: Tube) -> Mesh:
    return swept(solid.path, solid.radius, sections_of(solid.radius))


@mesh_of.register
def _(solid: Ball) -> Mesh:
    fine = next((n for n, gap in ICOSPHERE_GAPS.items() if gap * solid.radius <= CHORD_ERROR), max(ICOSPHERE_GAPS))
    sphere = unit_sphere(fine)
    return Mesh(solid.radius * sphere.points + solid.centre, sphere.faces)


@mesh_of.register
def _(solid: Revolved) -> Mesh:
    profile = solid.profile
    sections = sections_of(float(profile[:, 1].max()))
    axes = triad(solid.axis, square_to(solid.axis))
    angle = np.arange(sections) * 2.0 * np.pi / sections
    rim = np.cos(angle)[:, None] * axes[:, 1] + np.sin(angle)[:, None] * axes[:, 2]
    closed = profile[0, 1] > 0.0
    body = profile if closed else profile[1:-1]
    rings = solid.origin + body[:, 0, None, None] * axes[:, 0] + body[:, 1, None, None] * rim
    points = rings.reshape(-1, 3)
    if closed:
        return Mesh(points, loop_faces(len(body), sections)).outward()
    poles = solid.origin + profile[[0, -1], 0, None] * axes[:, 0]
    return Mesh(np.concatenate([points, poles]), bar_faces(len(body), sections)).outward()


@mesh_of.register
def _(solid: Sector) -> Mesh:
    beside = np.cross(solid.axis, solid.towards)
    share = solid.angle / (2.0 * np.pi)
    steps = int(np.ceil(share * sections_of(float(solid.outline[:, 1].max()))))
    angle = np.linspace(-0.5, 0.5, steps + 1) * solid.angle
    out = np.cos(angle)[:, None] * solid.towards + np.sin(angle)[:, None] * beside
    along = solid.origin + solid.outline[:, :1] * solid.axis
    return capped(along + solid.outline[:, 1, None] * out[:, None]).outward()


@mesh_of.register
def _(solid: Prism) -> Mesh:
    half = 0.5 * solid.thickness
    count = len(solid.outline)
    flat = solid.outline @ solid.axes[:, :2].T
    middle = flat.mean(axis=0)
    lower, upper = (solid.origin + flat + side * half * solid.axes[:, 2] for side in (-1.0, 1.0))
    poles = np.stack([solid.origin + middle + side * half * solid.axes[:, 2] for side in (-1.0, 1.0)])
    faces = [strip(0, count, count), fan(2 * count, 0, count)[:, ::-1], fan(2 * count + 1, count, count)]
    return Mesh(np.concatenate([lower, upper, poles]), np.concatenate(faces)).outward()


@mesh_of.register
def _(solid: Rail) -> Mesh:
    sections = rail_sections(solid)
    return (capped if solid.wall is None else looped)(sections).outward()


@mesh_of.register
def _(solid: Notched) -> Mesh:
    steps = sections_of(float(solid.profile[:, 1].max())) * (1.0 - solid.share) / solid.count
    land = solid.land or max(2, 1 + int(np.ceil(steps)))
    # A notch's walls lean by a little of its width: upright ones would have no area where the floor meets the profile.
    lean = NOTCH_LEAN * solid.share
    pitch = np.concatenate(
        [np.linspace(0.0, 1.0 - solid.share, land), np.linspace(1.0 - solid.share + lean, 1.0 - lean, 2)]
    )
    sunk = np.arange(len(pitch)) >= land
    outline = np.where(sunk[:, None, None], solid.floor, solid.profile)
    turn = (np.arange(solid.count)[:, None, None] + pitch[:, None] + solid.turned) * 2.0 * np.pi / solid.count
    axes = triad(solid.axis, square_to(solid.axis))
    out = np.cos(turn)[..., None] * axes[:, 1] + np.sin(turn)[..., None] * axes[:, 2]
    rings = solid.origin + outline[..., :1] * axes[:, 0] + outline[..., 1:] * out
    return looped(rings.reshape(-1, len(solid.profile), 3)).outward()


@mesh_of.register
def _(solid: Bead) -> Mesh:
    path = solid.path
    along = unit(np.roll(path, -1, axis=0) - np.roll(path, 1, axis=0))
    out = unit(across(path - path.mean(axis=0), along))
    # Every other section is thinner: the ripples of a bead.
    radius = solid.radius * np.where(np.arange(len(path)) % 2, RIPPLE, 1.0)
    angle = np.arange(BEAD_SIDES) * 2.0 * np.pi / BEAD_SIDES
    ring = np.cos(angle)[:, None] * out[:, None] + np.sin(angle)[:, None] * np.cross(along, out)[:, None]
    return looped(path[:, None] + radius[:, None, None] * ring).outward()


@mesh_of.register
def _(solid: MeshFile) -> Mesh:
    return mesh_from_file(solid)


@singledispatch
def pliant_mesh(solid: Pliant, places: Places) -> Mesh:
    """What changes shape, as it is between its parts where they are; the triangles are the same for every pose."""
    raise TypeError(f"no mesh for {type(solid).__name__}")


@pliant_mesh.register
def _(solid: SpringSolid, places: Places) -> Mesh:
    top, bottom = carried(places, solid.top_part, solid.top), carried(places, solid.bottom_part, solid.bottom)
    line = spring_line(solid, top, bottom)
    # Sections that face the axis keep their corners in place along the wire while the spring is squeezed.
    return swept(line, solid.wire_radius, WIRE_SIDES, across(line - bottom, unit(top - bottom)))


@pliant_mesh.register
def _(solid: HoseSolid, places: Places) -> Mesh:
    start, stop = (carried(places, part, at) for part, at in zip(solid.parts, solid.ends, strict=True))
    line = hose_line(solid, start, stop)
    if solid.width is not None:
        return _ribbon(line, solid.sag, (solid.width, 2.0 * solid.radius))
    return swept(line, solid.radius, sections_of(solid.radius))


@pliant_mesh.register
def _(solid: WoundSolid, places: Places) -> Mesh:
    mesh = joined(mesh_of(part) for part in solid.solids)
    share = wound_shares(solid, mesh.points)
    return Mesh(wound(solid, mesh.points, share, places(solid.near), places(solid.far))[0], mesh.faces)


def filled_spring(solid: SpringSolid, places: Places) -> Mesh:
    """The closed cylinder that a spring fills between its seats."""
    top, bottom = carried(places, solid.top_part, solid.top), carried(places, solid.bottom_part, solid.bottom)
    return mesh_of(rod(bottom, top, solid.mean_radius + solid.wire_radius, 0.0))


def carried(places: Places, part: str, at: Array) -> Array:
    """Where (3,) a part carries a ride-height point (3,)."""
    rotation, translation = places(part)
    return np.asarray(rotation @ at + translation)


def _ribbon(path: Array, sag: Array, section: tuple[float, float]) -> Mesh:
    """A flat band along a path (k, 3) in the plane of its ends and `sag` (3,); `section` is its width and thickness."""
    chord = unit(path[-1] - path[0])
    side = np.cross(chord, sag)
    side = unit(side) if norm(side) > 1e-6 else square_to(chord)
    thick = np.cross(side, unit(np.gradient(path, axis=0)))
    wide, high = 0.5 * section[0] * side, 0.5 * section[1] * thick
    return capped(np.stack([path + u * wide + v * high for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1))], 1)).outward()


def sections_of(radius: float) -> int:
    """Sections n of a round thing of a radius r in mm, a multiple of four: r (1 − cos (π / n)) ≤ the chord error."""
    fewest = np.pi / np.arccos(1.0 - min(CHORD_ERROR / radius, 1.0))
    return max(FEWEST, 4 * int(np.ceil(fewest / 4.0)))
