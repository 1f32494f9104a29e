"""Distances of parts along the ways out, for `model.usable`: where two parts touch is a stop like any other."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np
from numpy.typing import NDArray

from model.envelopes import MeasuredPart, measured_parts
from model.measures import Bound, Measure, Quantity
from model.mechanism import Mechanism
from model.pairs import Pair, pairs_of
from model.placing import Placed, Shapes
from model.poses import Poses
from model.search import Motion
from model.spatial import Array
from model.travel import differing

# Two parts that surely keep this apart, mm, are not measured: from one node of a way to the next the wheels go some
# 8 mm of 100 mm, of which a part beside them comes nearer to another by half at most before the next node shows it.
ENOUGH = 8.0
NOTHING_LEFT = Bound(0.0, 0.0, typical=False, source="the parts' own shapes", least=True)


class Touching:
    """The distances of pairs of parts, as `usable_travel` asks for them."""

    def __init__(
        self,
        mechanism: Mechanism,
        between: Collection[frozenset[str]] | None = None,
        parts: tuple[MeasuredPart, ...] | Shapes | None = None,
    ) -> None:
        """Choose the pairs.

        Args:
            mechanism: whose parts.
            between: labels of the pairs that count; every pair that moves and can meet unless given.
            parts: what is measured; everything unless given. `Shapes` keep what is built of them for the next call.

        """
        if not isinstance(parts, Shapes):
            parts = Shapes(measured_parts(mechanism) if parts is None else parts)
        self.shapes = parts
        self.pairs = [
            pair
            for pair in pairs_of(mechanism, parts.parts)
            if not pair.still and (between is None or parts.labels(pair) in between) and parts.left_of(pair)
        ]

    def __len__(self) -> int:
        """Return the number of pairs."""
        return len(self.pairs)

    def __call__(self, poses: Poses, asked: NDArray[np.bool_] | None) -> Iterator[Measure]:
        """The distance of every pair in poses in which it is asked for, `asked` (P, N); everywhere unless given."""
        placed, everyone = Placed(poses, self.shapes), np.arange(len(poses))
        for number, pair in enumerate(self.pairs):
            chosen = everyone if asked is None else np.flatnonzero(asked[number])
            values, at = np.full(len(poses), np.nan), np.zeros((len(poses), 3))
            if len(chosen):
                values[chosen], at[chosen] = _gap(pair, placed, chosen)
            where = " – ".join(self.labels(pair))
            part = self.shapes.parts[pair.first].parts[0]
            yield Measure("gap", where, part, Quantity.LENGTH, NOTHING_LEFT, values, at)

    def labels(self, pair: Pair) -> tuple[str, str]:
        """What the two parts of a pair are called."""
        return self.shapes.parts[pair.first].label, self.shapes.parts[pair.second].label


def _gap(pair: Pair, placed: Placed, chosen: NDArray[np.intp]) -> tuple[Array, Array]:
    """The distance (n,) of two parts in chosen poses (n,), or a lower bound on it from `ENOUGH` on.

    With it the middle (n, 3) between them, where it was measured. What is measured in one pose bounds all others by how
    far the two move against each other in between.
    """
    columns = placed.felt_by(pair)
    first, where = differing(placed.poses.travel.values[chosen], columns)
    motion = Motion(pair, placed, chosen[first])
    apart, at = motion.apart.copy(), np.zeros((len(first), 3))
    unknown = np.ones(len(first), dtype=bool)
    while (near := np.flatnonzero(unknown & (apart < ENOUGH))).size:
        number = int(near[apart[near].argmin()])
        found = placed.nearest(pair, int(chosen[first[number]]), apart=bool(apart[number] > 0.0))
        unknown[number] = False
        apart = np.where(unknown, np.maximum(apart, found.distance - motion.moved(number)), apart)
        apart[number], at[number] = found.distance, found.points.mean(axis=0)
    return apart[where], at[where]
