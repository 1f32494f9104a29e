"""Measuring once what many poses share: a member feels some drives only, and poses that differ in others look alike.

On a front whose sides are sprung apart a member of the left feels the left wheel and the steering: of 21 × 21 × 11
poses 231 differ for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

from model.constraints import systems
from model.mechanism import Mechanism
from model.poses import Poses
from model.solver import felt
from model.travel import differing

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Record = TypeVar("Record", bound="DataclassInstance")

Columns = frozenset[int]

# With more than this share of the poses different for a member, sharing costs more than it saves.
WORTH_SHARING = 0.5


@lru_cache(maxsize=32)
def drives_felt(mechanism: Mechanism) -> dict[str, Columns]:
    """Columns of the drives that move each body."""
    columns = dict.fromkeys((body.name for body in mechanism.bodies), Columns())
    if mechanism.steer is not None:
        columns |= {body.name: Columns({mechanism.steer}) for body in mechanism.bodies if body.screw is not None}
    for system in systems(mechanism):
        moved = Columns(felt(mechanism, system))
        columns |= {mechanism.bodies[number].name: moved for number in system.bodies[: system.free]}
    return columns


@dataclass(frozen=True)
class Sight:
    """How some drives see N poses: numbers `first` (M,) of those that differ, and `where` (N,) each is among them.

    `None` for both where nearly all of them differ.
    """

    first: NDArray[np.intp] | None
    where: NDArray[np.intp] | None

    @classmethod
    def of(cls, poses: Poses, columns: Columns) -> Sight:
        """What the drives in these columns see."""
        values = poses.travel.values * poses.reached[:, None]  # where a locked pose stands
        if len(columns) == values.shape[1]:
            return cls(None, None)
        first, where = differing(values, sorted(columns))
        return cls(first, where) if len(first) <= WORTH_SHARING * len(where) else cls(None, None)

    def some(self, record: Record) -> Record:
        """A record of all poses as one of those that differ: every array in it is (N, ...)."""
        return record if self.first is None else _taken(record, self.first)

    def spread(self, record: Record) -> Record:
        """A record of the poses that differ as one of all poses."""
        return record if self.where is None else _taken(record, self.where)


class Spread(Mapping[str, Record]):
    """Records of all poses by name; those of poses that differ are spread over all when they are first asked for.

    Most parts are asked for only by pictures: a check of a million poses spares their memory.
    """

    def __init__(self, whole: dict[str, Record]) -> None:
        """Begin with records of all poses."""
        self._whole = whole
        self._names = list(whole)
        self._some: dict[str, tuple[Sight, Record]] = {}

    def add(self, sight: Sight, records: dict[str, Record]) -> None:
        """Add records of the poses that differ."""
        self._names += records
        self._some |= {name: (sight, record) for name, record in records.items()}

    def __getitem__(self, name: str) -> Record:
        """Return the record of all poses."""
        if name not in self._whole:
            sight, record = self._some[name]
            self._whole[name] = sight.spread(record)
        return self._whole[name]

    def __iter__(self) -> Iterator[str]:
        """Names, in the order in which they came."""
        return iter(self._names)

    def __len__(self) -> int:
        """Return the number of names."""
        return len(self._names)


def _taken(record: Record, which: NDArray[np.intp]) -> Record:
    values = {field.name: getattr(record, field.name) for field in fields(record)}
    for name, value in values.items():
        if isinstance(value, np.ndarray):
            # What is the same in all poses stays one value, whatever their number.
            same = value.strides[0] == 0
            values[name] = np.broadcast_to(value[0], (len(which), *value.shape[1:])) if same else value.take(which, 0)
    return type(record)(**values)
