"""A suspension as frozen bodies, rows and members, in mm, N and rad, at ride height.

Bodies have six freedoms each (or a prescribed motion); rows take freedoms away; members are the parts
that follow from the bodies without costing a freedom: two-ended links, plain arms, coilovers.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from model.adjustable import Adjuster
from model.limits import JointLimits
from model.spatial import Array, unit

FRAME = "frame"


class Motion(StrEnum):
    """How a body comes to its place."""

    FIXED = "fixed"
    DRIVEN = "driven"
    FREE = "free"


@dataclass(frozen=True)
class Screw:
    """What steering does to a driven body: it slides along, or turns about, a unit axis `(3,)` through a point `(3,)`.

    `left` and `right` are the signed travels (mm or rad) at full left and full right lock.
    """

    axis: Array
    point: Array
    turns: bool
    left: float
    right: float


@dataclass(frozen=True)
class Body:
    """A rigid part with a pose of its own."""

    name: str
    motion: Motion
    screw: Screw | None = None


@dataclass(frozen=True)
class Anchor:
    """A point `(3,)`, given at ride height, that a body carries along."""

    body: int
    at: Array


@dataclass(frozen=True)
class Distance:
    """One row: the distance between two anchors stays as it is at ride height."""

    member: str
    a: Anchor
    b: Anchor


@dataclass(frozen=True)
class Offset:
    """One row: seen along a unit direction `(3,)` that the base's body carries, the tip stays as far from the base
    as at ride height, plus the value of drive number `drive` where there is one."""

    member: str
    direction: Array
    base: Anchor
    tip: Anchor
    drive: int | None = None


@dataclass(frozen=True)
class Square:
    """One row: the angle between a direction `(3,)` on one body and one on another stays as it is at ride height."""

    member: str
    body_a: int
    direction_a: Array
    body_b: int
    direction_b: Array


Row = Distance | Offset | Square


@dataclass(frozen=True)
class End:
    """One end of a member: a joint at a ride-height point `(3,)`, bolted to a part along a unit `bolt` `(3,)`.

    `housing` is the middle of a ball stud's swing, `None` where it is the same as the bolt. `engaged` is how far the
    joint's thread is screwed in, mm.
    """

    place: str
    point: str
    at: Array
    on: str
    joint: JointLimits
    bolt: Array
    housing: Array | None = None
    engaged: float | None = None


@dataclass(frozen=True)
class Link:
    """A bar between two ends; `clock` (rad) turns its second head against its first about the bar."""

    name: str
    ends: tuple[End, End]
    clock: float
    diameter: float

    def far_end(self, part: str) -> End:
        """The end that is not on a part which the other end is on."""
        return self.ends[1] if self.ends[0].on == part else self.ends[0]


@dataclass(frozen=True)
class Arm:
    """A control arm on two pivots; `ball` is its outer joint, if it has one; `body` says that it is a body."""

    name: str
    pivots: tuple[End, End]
    on: str
    ball: End | None
    body: bool
    diameter: float

    @property
    def ends(self) -> tuple[End, ...]:
        """Its two pivots, and its ball joint where it has one."""
        return self.pivots if self.ball is None else (*self.pivots, self.ball)


@dataclass(frozen=True)
class Pin:
    """A joint between a body and the part that its end names, such as a centre link on its idler arm."""

    part: str
    end: End


@dataclass(frozen=True)
class Spring:
    """A coil spring: rate N/mm, lengths mm."""

    rate: float
    free_length: float
    preload: float
    solid_length: float | None
    outside_diameter: float
    wire_diameter: float


@dataclass(frozen=True)
class Bushing:
    """A joint with give between two bodies, which moves as a spring moves.

    `part` is the body that carries the joint's eye, `holder` the body that carries its bolt. Rates: `radial` (square to
    the bolt) and `axial` in N/mm, `turn` (about the bolt) and `cock` (across it) in N·mm/rad. `wound` is the turn (rad)
    from ride height at which it is relaxed: where its bolt was tightened.
    """

    member: str
    end: End
    part: int
    holder: int
    radial: float
    axial: float
    turn: float
    cock: float
    wound: float = 0.0


@dataclass(frozen=True)
class TwoForceLink:
    """A link that turns freely on both ends, so that only a force along it strains it; `rates` of its ends, N/mm."""

    member: str
    ends: tuple[End, End]
    bodies: tuple[int, int]
    rates: tuple[float, float]


@dataclass(frozen=True)
class Coilover:
    """A spring and damper between two eyes; a strut's lower eye is its foot, fixed in the knuckle it is part of."""

    name: str
    top: End
    bottom: End
    compressed: float
    extended: float
    spring: Spring | None
    bump_stop: float | None
    body_diameter: float
    strut: bool = False

    @property
    def stroke(self) -> float:
        """Travel of the shaft in mm."""
        return self.extended - self.compressed


@dataclass(frozen=True)
class Wheel:
    """A wheel on a part; `axis` is its unit spin axis `(3,)` pointing left; `tyre_rate` in N/mm.

    `drive_on_carrier` and `brake_on_carrier` say whether the torque that turns or brakes it acts on the part that
    carries it (a live axle's final drive, an outboard brake) or past it on the frame.
    """

    name: str
    side: str
    on: str
    centre: Array
    axis: Array
    loaded_radius: float
    width: float
    rim_diameter: float
    tread_width: float | None = None
    growth: float = 0.0
    driven: bool = False
    drive_on_carrier: bool = False
    brake_on_carrier: bool = True
    tyre_rate: float | None = None


@dataclass(frozen=True)
class Beam:
    """How an axle looks: a tube between the wheels, a housing and a pinion where it has them; points `(3,)`."""

    name: str
    tube_diameter: float
    housing: Array | None
    housing_diameter: float
    pinion: Array | None


@dataclass(frozen=True)
class Brake:
    """A disc on a wheel's part, its middle `inboard` mm of the wheel's centre, and the envelope of its caliper.

    Angles in rad: 0 is up, π/2 to the rear.
    """

    name: str
    wheel: str
    diameter: float
    thickness: float
    inboard: float
    caliper_outer: float | None
    caliper_width: float | None
    caliper_angle: float
    caliper_span: float


@dataclass(frozen=True)
class Strap:
    """A limit strap of a length in mm between two fixings."""

    name: str
    ends: tuple[Fixing, Fixing]
    length: float


@dataclass(frozen=True)
class OwnMesh:
    """A mesh file that stands for a part's shape: scaled to mm, then placed by `rotation` (3, 3) and `move` (3,)."""

    name: str
    of: str
    file: str
    scale: float
    rotation: Array
    move: Array
    mirrored: bool


@dataclass(frozen=True)
class Gap:
    """What is wanted in mm of the distance between two parts; `None` where it is not measured."""

    between: tuple[str, str]
    wanted: float | None


@dataclass(frozen=True)
class WantedGaps:
    """Least distances in mm by kind; `None` where the scene leaves them to what is typical."""

    tyre: float | None = None
    wheel: float | None = None
    spring: float | None = None
    hose: float | None = None
    shaft: float | None = None
    other: float | None = None


@dataclass(frozen=True)
class FrameShape:
    """A shape for context: a path `(k, 3)` with a round or box section, a box, or a mesh file with its scale to mm.

    `mesh_open` says that the mesh may have open edges, as a scan of one side of a thing has.
    """

    name: str
    path: Array | None = None
    diameter: float | None = None
    section: tuple[float, float] | None = None
    centre: Array | None = None
    size: tuple[float, float, float] | None = None
    mesh: str | None = None
    mesh_scale: float = 1.0
    mesh_open: bool = False
    mirrored: bool = False
    rotation: Array | None = None
    move: Array | None = None


@dataclass(frozen=True)
class Bar:
    """An anti-roll bar: two arms, left then right, that each turn about the line of the bar's two bushes.

    `arms` are the parts' names, `ends` (3,) the places on them that end links hold. `rate` is the moment for a turn of
    one arm against the other in N·mm/rad, `None` where it follows from the diameter; `measured` says whether the scene
    gives that, which is else one to draw.
    """

    name: str
    on: str
    pivots: tuple[End, End]
    arms: tuple[str, str]
    ends: tuple[Array, Array]
    diameter: float
    rate: float | None = None
    measured: bool = True

    @property
    def axis(self) -> Array:
        """Unit direction (3,) of the line of its bushes, from the left one to the right one."""
        return unit(self.pivots[1].at - self.pivots[0].at)


@dataclass(frozen=True)
class Fixing:
    """A ride-height point `(3,)` that a part carries."""

    place: str
    on: str
    at: Array


@dataclass(frozen=True)
class Hose:
    """A hose of a given length in mm between two fixings."""

    name: str
    ends: tuple[Fixing, Fixing]
    length: float


@dataclass(frozen=True)
class ShaftJoint:
    """A joint of a driveshaft, its middle `(3,)` carried by a part.

    `axis` (3,) is the direction of that part's own shaft, `None` behind a centre bearing, where it is the first piece.
    """

    place: str
    on: str
    at: Array
    joint: JointLimits
    axis: Array | None


@dataclass(frozen=True)
class Slip:
    """Room in mm that a shaft has at ride height to get shorter and longer; spline in mesh and its diameter."""

    room_in: float
    room_out: float | None
    engaged: float | None
    diameter: float | None


@dataclass(frozen=True)
class Shaft:
    """A driveshaft of one or two pieces: two or three joints; `phase` in rad between the yokes of the last piece."""

    name: str
    joints: tuple[ShaftJoint, ...]
    phase: float
    speed: float | None
    slip: Slip | None
    diameter: float


@dataclass(frozen=True)
class Weights:
    """What the ground carries under the left and the right wheel at ride height, and each one's unsprung part, in N."""

    left: float
    right: float
    unsprung: float

    def under(self, side: str) -> float:
        """What the ground carries under the wheel on a side, N."""
        return self.right if side == "right" else self.left


@dataclass(frozen=True)
class LoadCase:
    """What the ground does to the left and the right wheel, and where they stand.

    `vertical` is how often what each carries at rest; `brake`, `drive` (on driven wheels) and `side` (positive pushes
    the tyres to the left) are shares of the vertical force. `at`: "ride", "bump", "droop" or mm above ride height; or
    "settled" both, where springs and anti-roll bars hold that load.
    """

    name: str
    vertical: tuple[float, float] = (1.0, 1.0)
    brake: float = 0.0
    drive: float = 0.0
    side: float = 0.0
    at: tuple[str | float, str | float] = ("ride", "ride")
    typical: bool = False

    @property
    def settles(self) -> bool:
        """Whether the wheels stand where springs and bars hold the load."""
        return "settled" in self.at


@dataclass(frozen=True)
class Drive:
    """One thing that moves the suspension: a wheel's height from ride height (mm), or steering as a share of lock.

    `low` and `high` bound its travel. Steering is positive to the left (ISO 8855: positive about z).
    """

    name: str
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Mechanism:
    """Everything the solver and the pictures need to know about one scene; equal only to itself.

    Where rigid links would hold a part twice over, `bushings` and `elastic_links` stand for them and `rigid` is the
    mechanism that they were made from.
    """

    title: str
    bodies: tuple[Body, ...]
    rows: tuple[Row, ...]
    drives: tuple[Drive, ...]
    points: tuple[tuple[str, str, Array], ...]
    links: tuple[Link, ...] = ()
    arms: tuple[Arm, ...] = ()
    coilovers: tuple[Coilover, ...] = ()
    wheels: tuple[Wheel, ...] = ()
    beams: tuple[Beam, ...] = ()
    pins: tuple[Pin, ...] = ()
    bars: tuple[Bar, ...] = ()
    hoses: tuple[Hose, ...] = ()
    shafts: tuple[Shaft, ...] = ()
    brakes: tuple[Brake, ...] = ()
    straps: tuple[Strap, ...] = ()
    own_meshes: tuple[OwnMesh, ...] = ()
    gaps: tuple[Gap, ...] = ()
    wanted: WantedGaps = WantedGaps()
    weights: Weights | None = None
    cases: tuple[LoadCase, ...] = ()
    adjusters: tuple[Adjuster, ...] = ()
    shapes: tuple[FrameShape, ...] = ()
    bushings: tuple[Bushing, ...] = ()
    elastic_links: tuple[TwoForceLink, ...] = ()
    rigid: Mechanism | None = None

    def body_number(self, name: str) -> int:
        """Index of a body by its name; the caller knows that it exists."""
        return next(number for number, body in enumerate(self.bodies) if body.name == name)

    def drive_number(self, name: str) -> int:
        """Column of a drive by its name; the caller knows that it exists."""
        return next(number for number, drive in enumerate(self.drives) if drive.name == name)

    @property
    def steer(self) -> int | None:
        """Column of the steering drive, if the scene has steering."""
        return next((number for number, drive in enumerate(self.drives) if drive.name == "steer"), None)
