"""Where the pieces of a driveshaft are in each pose.

The shaft is drawn as it stands with the wheels and the gearbox held: it does not turn, it only swings.
"""

from __future__ import annotations

from collections.abc import Sequence

from model.mechanism import Shaft
from model.spatial import Array, about_point, shortest_rotation, unit


def piece_names(shaft: Shaft) -> tuple[str, ...]:
    """Part names of a shaft's pieces: the two halves of its last piece, then the first piece of a two-piece shaft."""
    names = (f"{shaft.name} front", f"{shaft.name} rear")
    return names if len(shaft.joints) == 2 else (*names, f"{shaft.name} first piece")


def place_pieces(shaft: Shaft, at: Sequence[Array]) -> dict[str, tuple[Array, Array]]:
    """Place every piece of a shaft.

    Args:
        shaft: of J joints, two or three.
        at: where its joints are in each pose, J times (N, 3) in mm.

    Returns:
        rotation (N, 3, 3) and translation (N, 3) from ride height by part name. The front half of the last piece stays
        at the joint before it, the rear half at the joint behind it, and the slip between them takes up the length.

    """
    (near, far), (near_now, far_now) = (joint.at for joint in shaft.joints[-2:]), at[-2:]
    swung = shortest_rotation(unit(far - near), unit(far_now - near_now))
    front, rear, *first_piece = piece_names(shaft)
    placed = {
        front: (swung, about_point(swung, near, near_now)),
        rear: (swung, about_point(swung, far, far_now)),
    }
    for name in first_piece:
        start = shaft.joints[0].at
        turned = shortest_rotation(unit(near - start), unit(near_now - at[0]))
        placed[name] = (turned, about_point(turned, start, at[0]))
    return placed
