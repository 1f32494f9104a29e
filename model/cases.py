"""Load cases of a scene file: what the ground does to the wheels, as shares of what they carry at rest."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from model.fields import NotNegative, Share, Table

Factor = Annotated[float, Field(ge=0, le=20, allow_inf_nan=False)]


class Case(Table):
    """One load case: the ground's forces on each wheel, and where the wheels stand."""

    vertical: Factor | Annotated[list[Factor], Field(min_length=2, max_length=2)] = Field(
        1.0, description="how often the weight that the wheel carries at rest: of both wheels, or [left, right]"
    )
    brake: NotNegative = Field(0.0, description="braking force, as a share of the vertical force")
    drive: NotNegative = Field(0.0, description="driving force on driven wheels, as a share of the vertical force")
    side: Share = Field(
        0.0,
        description="side force, as a share of the vertical force; positive pushes the tyres to the left",
    )
    at: Literal["ride", "bump", "droop"] | float = Field(
        "ride",
        description="where both wheels stand: at ride height, full bump, full droop, or this far above ride height",
    )
