"""What was sampled once is kept: sheets of `model.posegrid` over the same drives share most of their poses."""

from __future__ import annotations

import numpy as np

from model.posegrid import Index, Sample, Stopped
from model.spatial import Array

# Drives that differ by less than this share of their travel are the same: some hundred times what rounding does.
SAME = 2.0**-40


class Memory:
    """Sampled poses, each in a row of its own, in the order in which they were asked for first."""

    def __init__(self, sample: Sample, low: Array, high: Array) -> None:
        """Begin with nothing sampled of drives between `low` (D,) and `high` (D,)."""
        self._sample, self._unit = sample, SAME * (high - low)
        self._rows: dict[bytes, int] = {}
        self._values: Array = np.zeros((0, 0))
        self._stopped: Stopped = np.zeros(0, dtype=np.int64)

    def rows(self, drives: Array) -> Index:
        """The rows (N,) of drives (N, D); those that have none yet are sampled."""
        steps = np.rint(drives / self._unit).astype(np.int64)
        keys = [each.tobytes() for each in steps]
        new = {key: number for number, key in enumerate(keys) if key not in self._rows}
        if new:
            first = len(self._rows)
            self._rows |= {key: first + k for k, key in enumerate(new)}
            self._keep(first, *self._sample(drives[list(new.values())]))
        return np.array([self._rows[key] for key in keys], dtype=np.intp)

    def values(self, rows: Index) -> Array:
        """The values (N, K) in some rows."""
        return np.asarray(self._values[rows])

    def stopped(self, rows: Index) -> Stopped:
        """What stops the poses (N,) in some rows."""
        return np.asarray(self._stopped[rows])

    def sampled(self, drives: Array) -> tuple[Array, Stopped]:
        """Values (N, K) at drives (N, D), and what stops those poses."""
        rows = self.rows(drives)
        return self.values(rows), self.stopped(rows)

    def _keep(self, first: int, values: Array, stopped: Stopped) -> None:
        """Write new rows down from `first` on; room is doubled when it is used up, so that it is seldom moved."""
        last = first + len(stopped)
        if last > len(self._stopped):
            room = max(last, 2 * len(self._stopped))
            kept, self._values = self._values, np.empty((room, values.shape[1]))
            if first:
                self._values[:first] = kept[:first]
            self._stopped = np.concatenate([self._stopped[:first], np.zeros(room - first, dtype=np.int64)])
        self._values[first:last], self._stopped[first:last] = values, stopped
