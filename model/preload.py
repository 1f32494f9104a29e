"""Where the bushes of a linkage that is held twice over are relaxed: where their bolts were tightened.

A bonded bush that is tightened with both wheels at some height carries no moment about its bolt there, and so winds up
from that turn and not from the one at ride height. To find it the linkage is moved there with those bolts loose, as a
person would do it. How the parts stand then depends a little on what bushes tightened elsewhere do to them: with more
than one such height the turns are found again with the last ones in place until they stay.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from model.constraints import systems
from model.errors import SceneError
from model.joints import JointKind
from model.mechanism import Bushing, Drive, Mechanism
from model.mobility import joined
from model.ridestart import ride_start
from model.solver import solve
from model.travel import Travel

# Turns that change by less (rad) stay: far below what the solver's lengths of 1e-9 mm leave of a bush's turn.
STAYS, MOST_ROUNDS = 1e-9, 20
# A loose bolt leaves this share of its bush's rate, so that a part which nothing else keeps from spinning stays put.
LOOSE = 1e-4


def tightened(mechanism: Mechanism) -> Mechanism:
    """The same mechanism with each bonded bush relaxed where its bolt was tightened, or where it locks on the way.

    Raises:
        SceneError: no such turns are found, or the parts do not come to ride height with bushes wound up by them.

    """
    places = tuple(dict.fromkeys(place for place in map(_place, mechanism.bushings) if place != "ride"))
    if not places:
        return mechanism
    for _ in range(MOST_ROUNDS):
        last = np.array([bushing.wound for bushing in mechanism.bushings])
        for place in places:
            mechanism = _tightened_at(mechanism, place)
        if np.abs(last - [bushing.wound for bushing in mechanism.bushings]).max() < STAYS:
            break
    else:
        raise SceneError([_text(mechanism, "how their parts stand where they are tightened is not found")])
    if any(ride_start(mechanism, system).wound < 1.0 for system in systems(mechanism)):
        raise SceneError([_text(mechanism, "wound up from there they keep their parts from ride height")])
    return mechanism


def _tightened_at(mechanism: Mechanism, place: str | float) -> Mechanism:
    """The same mechanism with the bushes of one place relaxed as they stand there."""
    heights = np.array([[height_of(drive, place) for drive in mechanism.drives]])
    loose = replace(
        mechanism,
        bushings=tuple(
            replace(bushing, turn=LOOSE * bushing.turn) if _place(bushing) == place else bushing
            for bushing in mechanism.bushings
        ),
    )
    holding = solve(loose, Travel(tuple(drive.name for drive in mechanism.drives), heights)).holding
    if holding is None:
        raise AssertionError("bushings hold every pose")  # a mechanism has them only where it moves by their give
    turns = {
        (member, end.place): float(holding.rotation[number, 0, 0])
        for number, (member, end) in enumerate(holding.joints)
    }
    return replace(
        mechanism,
        bushings=tuple(
            replace(bushing, wound=turns[bushing.member, bushing.end.place]) if _place(bushing) == place else bushing
            for bushing in mechanism.bushings
        ),
    )


def _text(mechanism: Mechanism, why: str) -> str:
    names = dict.fromkeys(bushing.end.joint.name for bushing in mechanism.bushings if _place(bushing) != "ride")
    are = "is" if len(names) == 1 else "are"
    return (
        f"{joined(list(names))} {are} tightened elsewhere than at ride height, and {why}; check `torqued_at` and the "
        "turn rates."
    )


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
