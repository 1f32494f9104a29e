"""What can be adjusted on a suspension, as the scene file says it."""

from __future__ import annotations

from typing import Literal

from model.fields import Positive, Reference, Table


class Adjuster(Table):
    """One adjuster and how far it goes from where it stands."""

    kind: Literal["thread"]
    of: Reference
    pitch: Positive
    mirror: bool = False
