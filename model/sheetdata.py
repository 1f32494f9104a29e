"""What a person sets and tightens at ride height: lengths, wheel heights, joints with their fasteners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from model.joints import STUD_KINDS, JointKind
from model.limits import JointLimits
from model.measures import place_text
from model.mechanism import FRAME, Mechanism, Wheel
from model.members import posture
from model.poses import Poses
from model.spatial import Array, norm

# Two bolts this near to being mirror images, mm, are a pair: finer than a tape reads.
ALIKE = 1.0


@dataclass(frozen=True)
class FittedJoint:
    """A joint to be tightened; `where` is the place that findings name.

    `at` (3,) is its middle at ride height in mm, `on` the part that it is bolted to. `engaged` is how far its thread is
    screwed in, mm. `threaded` says that it is, or may be, screwed into a bar and held by a jam nut.
    """

    part: str
    where: str
    limits: JointLimits
    at: Array
    on: str
    engaged: float | None
    threaded: bool

    @property
    def engaged_diameters(self) -> float | None:
        """How far the thread is screwed in, in diameters of the thread."""
        diameter = self.limits.fastening.thread_diameter
        return None if self.engaged is None or diameter is None else self.engaged / diameter


@dataclass(frozen=True)
class DamperLength:
    """A damper's length at ride height and its shortest and longest, mm, eye to eye; of a strut from foot to mount."""

    name: str
    length: float
    compressed: float
    extended: float
    strut: bool

    @property
    def room_in(self) -> float:
        """How far it can still go in, mm."""
        return self.length - self.compressed

    @property
    def room_out(self) -> float:
        """How far it can still come out, mm."""
        return self.extended - self.length

    @property
    def share_in(self) -> float:
        """`room_in` as a share of the stroke."""
        return self.room_in / (self.extended - self.compressed)

    @property
    def share_out(self) -> float:
        """`room_out` as a share of the stroke."""
        return self.room_out / (self.extended - self.compressed)


@dataclass(frozen=True)
class LinkLength:
    """A link's length from eye to eye, mm."""

    name: str
    length: float


@dataclass(frozen=True)
class WheelHeight:
    """Where a wheel's centre is at ride height, mm, and how the wheel stands, rad.

    `height` is the centre's z; `reference` the place of a bolt on the frame, `None` where the frame has none on the
    wheel's side; `rise` is how far the bolt is above the centre. `camber` is positive where the top leans out, `toe`
    where the front points in (ISO 8855 for the wheel's own side).
    """

    wheel: str
    height: float
    loaded_radius: float
    camber: float
    toe: float
    reference: str | None
    rise: float | None


def fitted_joints(poses: Poses) -> tuple[FittedJoint, ...]:
    """Every joint of a mechanism, each once: those of its members, then those of its shafts."""
    mechanism = poses.mechanism
    links = {link.name for link in mechanism.links}
    bars = links | {arm.name for arm in mechanism.arms}
    joints = []
    for motion in posture(poses.take(slice(0, 1))).joints:
        end, part = motion.end, motion.member
        kind, fastening = end.joint.kind, end.joint.fastening
        given = (end.engaged, fastening.thread_diameter, fastening.jam_nut, fastening.jam_nut_torque)
        threaded = (part in bars and kind is JointKind.ROD_END) or (part in links and kind in STUD_KINDS)
        joints.append(
            FittedJoint(
                part=part,
                where=place_text(part, end),
                limits=end.joint,
                at=end.at,
                on=end.on,
                engaged=end.engaged,
                threaded=threaded or any(value is not None for value in given),
            )
        )
    for shaft in mechanism.shafts:
        joints += [
            FittedJoint(shaft.name, f"{shaft.name}, {end.place}", end.joint, end.at, end.on, None, threaded=False)
            for end in shaft.joints
        ]
    return tuple(joints)


def damper_lengths(mechanism: Mechanism) -> tuple[DamperLength, ...]:
    """Every coilover and strut at ride height."""
    return tuple(
        DamperLength(
            name=damper.name,
            length=float(norm(damper.top.at - damper.bottom.at)),
            compressed=damper.compressed,
            extended=damper.extended,
            strut=damper.strut,
        )
        for damper in mechanism.coilovers
    )


def link_lengths(mechanism: Mechanism) -> tuple[LinkLength, ...]:
    """Every link."""
    return tuple(LinkLength(link.name, float(norm(link.ends[1].at - link.ends[0].at))) for link in mechanism.links)


def wheel_heights(mechanism: Mechanism, joints: tuple[FittedJoint, ...]) -> tuple[WheelHeight, ...]:
    """Every wheel's centre, and how far it is from a bolt on the frame that a tape can be put to."""
    bolts = [joint for joint in joints if joint.on == FRAME]
    return tuple(_wheel_height(wheel, bolts) for wheel in mechanism.wheels)


def _wheel_height(wheel: Wheel, bolts: list[FittedJoint]) -> WheelHeight:
    """Measure to the bolt most nearly above or below the centre.

    A bolt that has its like on the other side goes first, so that both sides are measured alike.
    """
    centre = wheel.centre
    own = [bolt for bolt in bolts if bolt.at[1] * centre[1] >= 0.0 and norm(bolt.at - centre) > ALIKE]
    hand = -1.0 if wheel.side == "right" else 1.0
    x, y, z = hand * wheel.axis * [1.0, hand, 1.0]
    standing = (wheel.name, float(centre[2]), wheel.loaded_radius, -float(np.arcsin(z)), float(np.arctan2(x, y)))
    if not own:
        return WheelHeight(*standing, None, None)

    def preference(bolt: FittedJoint) -> tuple[bool, float]:
        mirrored = bolt.at * np.array([1.0, -1.0, 1.0])
        paired = any(norm(other.at - mirrored) < ALIKE for other in bolts)
        return paired, float(abs(bolt.at[2] - centre[2]) / norm(bolt.at - centre))

    bolt = max(own, key=preference)
    return WheelHeight(*standing, bolt.where, float(bolt.at[2] - centre[2]))
