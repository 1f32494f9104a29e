"""The exceptions that reach a person.

::

    FulltravelError          one or more sentences for the person; never a traceback
    ├── SceneError           the scene file is wrong (exit code 2)
    ├── CallError            the command or its options are wrong (exit code 2)
    └── DrawingError         this machine cannot draw, or the picture cannot be written (exit code 2)

A pose that cannot be reached is no exception: it is a status of that pose (see `model.poses.Status`).
"""

from __future__ import annotations

from collections.abc import Sequence


class FulltravelError(Exception):
    """One or more complaints, each one sentence: what, where, what was expected, what to do."""

    def __init__(self, complaints: str | Sequence[str]) -> None:
        """Keep the complaints in the order given."""
        self.complaints: tuple[str, ...] = (complaints,) if isinstance(complaints, str) else tuple(complaints)
        super().__init__("\n".join(self.complaints))


class SceneError(FulltravelError):
    """The scene file is wrong; all mistakes that could be found are in `complaints`."""


class CallError(FulltravelError):
    """The command was called with options that do not fit the scene or each other."""


class DrawingError(FulltravelError):
    """Nothing can be drawn here, or what was drawn cannot be written."""
