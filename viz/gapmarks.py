"""Clearances as they are drawn: with the patches where the parts touch, and what is measured where less is drawn."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from model.clearance import Clearance
from model.envelopes import Kind, MeasuredPart, measured_parts
from model.members import Posture, posture
from model.meshes import Places
from model.pairs import Joint, pairs_of, without
from model.patches import REACH, touching
from model.poses import Poses
from model.triangles import Mesh, joined
from model.verdicts import State
from viz.gaps import GapMark


def gap_mark(found: Clearance, state: State, posed: Poses, pose: int = 0) -> GapMark:
    """A clearance in the pose in which it was measured.

    Args:
        found: what was measured.
        state: the verdict on it.
        posed: poses among which is that of `found.drives`.
        pose: its number.

    """
    parts = measured_parts(posed.mechanism)
    now: Posture = posture(posed.take(np.array([pose])))

    def places(name: str) -> tuple[np.ndarray, np.ndarray]:
        part = now.parts[name]
        return part.rotation[0], part.translation[0]

    sides = [[part for part in parts if part.label == label] for label in found.labels]
    springs = [part.at(places) for side in sides for part in side if part.kind is Kind.SPRING]
    patches: tuple[Mesh, ...] = ()
    if found.distance < REACH:
        shared = _shared(found, posed, parts)
        one, other = ([part.at(places) for part in side] for side in sides)
        first, second = ([_bared(part, shared, places) for part in side] for side in sides)
        patches = touching(joined(first), joined(other)), touching(joined(second), joined(one))
    return replace(plain_mark(found, state), patches=patches, measured=tuple(springs))


def plain_mark(found: Clearance, state: State) -> GapMark:
    """A clearance without the patches where its parts touch, which take time to find."""
    wanted = found.wanted.least if found.wanted.least > 0.0 else None
    return GapMark(found.labels, found.points, found.distance, state, wanted, found.wanted.typical)


def _shared(found: Clearance, posed: Poses, parts: tuple[MeasuredPart, ...]) -> tuple[Joint, ...]:
    """The joints that two parts share, near which they touch by design."""
    labels = set(found.labels)
    pairs = [
        pair
        for pair in pairs_of(posed.mechanism, parts)
        if {parts[pair.first].label, parts[pair.second].label} == labels
    ]
    return tuple(joint for pair in pairs for joint in pair.joints)


def _bared(part: MeasuredPart, shared: tuple[Joint, ...], places: Places) -> Mesh:
    """A part in its pose without its triangles near shared joints; one that changes shape is left whole."""
    if not part.rigid:
        return part.at(places)
    rotation, translation = places(part.parts[0])
    mesh = without(part.mesh, shared)
    return Mesh(mesh.points @ rotation.T + translation, mesh.faces)
