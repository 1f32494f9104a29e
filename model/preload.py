"""Where the bushes of a linkage that is held twice over are relaxed: where their bolts were tightened.

A bonded bush that is tightened with both wheels at some height carries no moment about its bolt there, and so winds up
from that turn and not from the one at ride height. How the parts stand at that height depends a little on what bushes
tightened elsewhere do to them: the turns are found again with the last ones in place until they stay.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from model.joints import JointKind
from model.mechanism import Bushing, Drive, Mechanism
from model.solver import solve
from model.travel import Travel

# Turns that change by less (rad) stay: far below what the solver's lengths of 1e-9 mm leave of a bush's turn. They come
# nearer by the square of what bushes give over the links' length each time, mostly a thousandfold.
STAYS, MOST_ROUNDS = 1e-9, 20


def tightened(mechanism: Mechanism) -> Mechanism:
    """The same mechanism with each bonded bush relaxed where its bolt was tightened, or where it locks on the way."""
    places = tuple(dict.fromkeys(_place(bushing) for bushing in mechanism.bushings))
    if all(place == "ride" for place in places):
        return mechanism
    heights = np.array([[height_of(drive, place) for drive in mechanism.drives] for place in places])
    travel = Travel(tuple(drive.name for drive in mechanism.drives), heights)
    pose = np.array([places.index(_place(bushing)) for bushing in mechanism.bushings])
    loose = np.array([_place(bushing) == "ride" for bushing in mechanism.bushings])
    for _ in range(MOST_ROUNDS):
        holding = solve(mechanism, travel).holding
        if holding is None:
            raise AssertionError("bushings hold every pose")  # a mechanism has them only where it moves by their give
        joint = {(member, end.place): number for number, (member, end) in enumerate(holding.joints)}
        numbers = [joint[bushing.member, bushing.end.place] for bushing in mechanism.bushings]
        turns = np.where(loose, 0.0, holding.rotation[numbers, pose, 0])
        change = np.abs(turns - [bushing.wound for bushing in mechanism.bushings]).max()
        wound = zip(mechanism.bushings, turns, strict=True)
        mechanism = replace(mechanism, bushings=tuple(replace(bush, wound=float(turn)) for bush, turn in wound))
        if change < STAYS:
            break
    return mechanism


def _place(bushing: Bushing) -> str | float:
    """Where a bush is tightened; one that does not wind up, or is tightened at ride height, counts from there."""
    joint = bushing.end.joint
    bonded = joint.kind is JointKind.RUBBER_BUSH and bushing.turn > 0.0
    return joint.torqued_at if bonded and joint.torqued_at != 0.0 else "ride"


def height_of(drive: Drive, place: str | float) -> float:
    """Height in mm of a wheel at "ride", "droop" or "bump", or at a height in mm; 0 for the steering."""
    if drive.name == "steer" or place == "ride":
        return 0.0
    if place == "droop":
        return drive.low
    return drive.high if isinstance(place, str) else place
