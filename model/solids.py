"""The shape of every part as frozen solids in mm, at ride height in vehicle coordinates.

A part's solids ride along with the part (see `model.members.Posture`); springs, hoses and what is wound between two
parts change shape with the pose, in `model.flexing`. Sizes that no scene gives are proportions of common hardware:
they are drawn, never measured against.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from model.spatial import Array, across, dot, norm, square_to, unit


class Material(StrEnum):
    """What a solid is made of; `viz.style` says how that looks."""

    FRAME = "frame paint"
    BRACKET = "bracket steel"
    LINK = "link paint"
    ARM = "arm paint"
    AXLE = "axle paint"
    CAST = "cast metal"
    STEERING = "steering paint"
    FASTENER = "zinc"
    BALL = "polished steel"
    RUBBER = "rubber"
    POLY = "polyurethane"
    MARK = "light marking"
    DARK_MARK = "dark marking"
    HOSE = "brake hose"
    BAR = "bar paint"
    SHAFT = "shaft paint"
    BRONZE = "bronze"
    DAMPER = "damper body"
    SPRING = "spring paint"
    TYRE = "tyre"
    RIM = "rim"
    CALIPER = "brake caliper"
    WEBBING = "webbing"


@dataclass(frozen=True)
class Tube:
    """A closed round bar of one `radius` along a path (k, 3)."""

    path: Array
    radius: float


@dataclass(frozen=True)
class Rail:
    """A closed box bar along a path (k, 3); `section` is (width, height), the height as near to z as it can be.

    With a `wall` (mm) it is hollow and its edges are broken, as of a rectangular tube.
    """

    path: Array
    section: tuple[float, float]
    wall: float | None = None


@dataclass(frozen=True)
class Ball:
    """A sphere about `centre` (3,)."""

    centre: Array
    radius: float


@dataclass(frozen=True)
class Revolved:
    """A profile (k, 2) of (along, radius) turned about a unit `axis` (3,) through `origin` (3,).

    A profile that begins and ends on the axis closes there; any other is a ring and closes on itself.
    """

    origin: Array
    axis: Array
    profile: Array


@dataclass(frozen=True)
class Sector:
    """A closed convex outline (k, 2) of (along, radius) turned by `angle` (rad) about a unit `axis` through `origin`.

    Its middle lies in the unit direction `towards` (3,), which is square to the axis (3,).
    """

    origin: Array
    axis: Array
    towards: Array
    outline: Array
    angle: float


@dataclass(frozen=True)
class Prism:
    """A convex outline (k, 2) in the first two of `axes` (3, 3), `thickness` deep, its middle at `origin` (3,)."""

    origin: Array
    axes: Array
    outline: Array
    thickness: float


@dataclass(frozen=True)
class MeshFile:
    """Somebody's own mesh: scaled to mm, turned by `rotation` (3, 3), moved by `move` (3,), then perhaps mirrored.

    `sheet` says that it may have open edges, as a scan of one side of a thing has.
    """

    path: str
    scale: float
    mirrored: bool
    rotation: Array | None = None
    move: Array | None = None
    sheet: bool = False


@dataclass(frozen=True)
class Notched:
    """A ring of a `profile` (k, 2) of (along, radius) turned about a unit `axis`, with `count` notches across it.

    In a notch, which fills a `share` of its pitch, the profile is `floor` (k, 2). Each of its points may be turned by a
    share of a pitch (k,), so that notches run aslant. Between notches it is as round as anything, or has only as many
    points as `land` says.
    """

    origin: Array
    axis: Array
    profile: Array
    floor: Array
    count: int
    share: float
    turned: Array
    land: int | None = None


@dataclass(frozen=True)
class Bead:
    """A weld along a closed path (k, 3): drawn where two parts are joined, and never measured."""

    path: Array
    radius: float


Solid = Tube | Rail | Ball | Revolved | Sector | Prism | Notched | Bead | MeshFile


@dataclass(frozen=True)
class PartSolids:
    """Solids of one material that move with `part`; `label` is the name under which a person finds them."""

    part: str
    label: str
    material: Material
    solids: tuple[Solid, ...]


@dataclass(frozen=True)
class SpringSolid:
    """A round wire wound between two seats (3,), each on a part of its own, about the line of the seats."""

    label: str
    top_part: str
    top: Array
    bottom_part: str
    bottom: Array
    mean_radius: float
    wire_radius: float
    coils: float
    material: Material = Material.SPRING

    @property
    def holders(self) -> tuple[str, str]:
        """The two parts that it hangs between."""
        return self.top_part, self.bottom_part


@dataclass(frozen=True)
class HoseSolid:
    """A stretch of a hose of a given `length` in mm between two ends (3,), each on a part of its own.

    `sag` (3,) is the unit direction in which it hangs; the stretch is from one share of the length to another. Webbing
    has a `width` across the plane that it hangs in; its radius is then half its thickness.
    """

    label: str
    material: Material
    parts: tuple[str, str]
    ends: tuple[Array, Array]
    length: float
    sag: Array
    radius: float
    stretch: tuple[float, float] = (0.0, 1.0)
    width: float | None = None

    @property
    def holders(self) -> tuple[str, str]:
        """The two parts that it hangs between."""
        return self.parts


@dataclass(frozen=True)
class WoundSolid:
    """Solids fixed to one part at their one side and to another at their other, wound in between, about an axis.

    A vertex's share of the way from `near` to `far` runs from 0 to 1 over `span` (mm): of its distance from the axis,
    or where `lengthwise` is true of its height along the axis `(3,)` from `origin` (3,). `far_turn` (3, 3) is how the
    far side is turned at ride height. `joint` names the joint (member and place) whose wind-up this shows.
    """

    label: str
    material: Material
    near: str
    far: str
    origin: Array
    axis: Array
    span: tuple[float, float]
    lengthwise: bool
    far_turn: Array
    solids: tuple[Solid, ...]
    joint: tuple[str, str] | None = None

    @property
    def holders(self) -> tuple[str, str]:
        """The two parts that it hangs between."""
        return self.near, self.far


Pliant = SpringSolid | HoseSolid | WoundSolid
Drawn = PartSolids | Pliant


@dataclass(frozen=True)
class SolidModel:
    """Everything there is to draw of a mechanism: what rides on one part, and what changes shape between two."""

    parts: tuple[PartSolids, ...]
    pliant: tuple[Pliant, ...]


def piece(part: str, material: Material, *solids: Solid, label: str | None = None) -> PartSolids:
    """Solids of one material that move with one part; its label is the part's own name unless given."""
    return PartSolids(part, label or part, material, solids)


def ring(origin: Array, axis: Array, half: float, inner: float, outer: float, bevel: float = 0.12) -> Revolved:
    """A sleeve or housing: from −half to half along the axis, its outer edges broken."""
    cut = bevel * min(outer - inner, half)
    profile = [(-half, inner), (half, inner), (half, outer - cut), (half - cut, outer), (cut - half, outer)]
    return Revolved(origin, axis, np.array([*profile, (-half, outer - cut)]))


def notched_ring(
    origin: Array, axis: Array, span: tuple[float, float], radii: tuple[float, float], count: int, depth: float
) -> Notched:
    """A ring from one height to another along its axis, between two radii, with slots of a depth in its rim, in mm."""
    (low, high), (inner, outer) = span, radii
    cut = 0.12 * (outer - inner)
    profile = [(low, inner), (high, inner), (high, outer - cut), (high - cut, outer), (low + cut, outer)]
    outline = np.array([*profile, (low, outer - cut)])
    floor = np.stack([outline[:, 0], np.minimum(outline[:, 1], outer - depth)], axis=-1)
    return Notched(origin, axis, outline, floor, count, 0.3, np.zeros(len(outline)))


def rod(start: Array, stop: Array, radius: float, bevel: float = 0.15) -> Revolved:
    """A cylinder between two points with broken edges."""
    length = float(norm(stop - start))
    cut = min(bevel * radius, 0.4 * length)
    rims = [(0.0, radius), (length, radius)]
    if cut > 0.0:
        rims = [(0.0, radius - cut), (cut, radius), (length - cut, radius), (length, radius - cut)]
    return stack(start, unit(stop - start), *rims)


def stack(origin: Array, axis: Array, *steps: tuple[float, float]) -> Revolved:
    """A turned part from (along, radius) steps, closed on its axis at both ends."""
    return Revolved(origin, axis, np.array([(steps[0][0], 0.0), *steps, (steps[-1][0], 0.0)]))


def hexagon(origin: Array, axis: Array, across_flats: float, thickness: float) -> Prism:
    """A nut or bolt head about an axis."""
    angles = np.arange(6) * np.pi / 3.0
    outline = across_flats / np.sqrt(3.0) * np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    return Prism(origin, plane_axes(axis, square_to(axis)), outline, thickness)


def plane_axes(normal: Array, reference: Array) -> Array:
    """Axes (3, 3) whose third is `normal` and whose first points towards `reference`."""
    z = unit(normal)
    x = unit(across(reference, z))
    return np.stack([x, np.cross(z, x), z], axis=-1)


def bolt_through(middle: Array, axis: Array, half: float, radius: float) -> tuple[Solid, ...]:
    """A through bolt with head, nut and washers."""
    flats = 3.0 * radius
    return (
        rod(middle - (half + 2.4 * radius) * axis, middle + (half + 0.6 * radius) * axis, radius),
        ring(middle + (half + 0.15 * radius) * axis, axis, 0.15 * radius, 0.5 * radius, 1.9 * radius),
        ring(middle - (half + 0.15 * radius) * axis, axis, 0.15 * radius, 0.5 * radius, 1.9 * radius),
        hexagon(middle + (half + 0.9 * radius) * axis, axis, flats, 1.2 * radius),
        hexagon(middle - (half + 1.2 * radius) * axis, axis, flats, 1.7 * radius),
    )


def rounded(path: Array, bend: float, steps: int = 17) -> Array:
    """A path (k, 3) with its corners bent to a radius in mm, less where a leg is too short for it."""
    if len(path) < 3:
        return path
    points: list[Array] = [path[0]]
    for before, corner, after in zip(path[:-2], path[1:-1], path[2:], strict=True):
        back, ahead = before - corner, after - corner
        room = 0.45 * min(float(norm(back)), float(norm(ahead)))
        a, b = unit(back), unit(ahead)
        half_angle = 0.5 * float(np.arccos(np.clip(dot(a, b), -1.0, 1.0)))
        if np.pi / 2 - half_angle < 1e-3:
            continue
        reach = min(room, bend / np.tan(half_angle))
        share = np.linspace(0.0, 1.0, steps)[:, None]
        # A quadratic curve between the two tangent points is within a wall's thickness of the bender's arc.
        points += list(corner + reach * ((1 - share) ** 2 * a + share**2 * b))
    return np.array([*points, path[-1]])
