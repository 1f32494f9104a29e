"""Load cases of a scene file: what the ground does to the wheels, as shares of what they carry at rest."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from model.fields import LARGEST, NotNegative, Share, Table

Factor = Annotated[float, Field(ge=0, le=20, allow_inf_nan=False)]
Height = Literal["ride", "bump", "droop"] | Annotated[float, Field(ge=-LARGEST, le=LARGEST, allow_inf_nan=False)]


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
    at: Height | Annotated[list[Height], Field(min_length=2, max_length=2)] = Field(
        "ride",
        description="where the wheels stand: at ride height, full bump, full droop, or this far above ride height; "
        "both alike, or [left, right]",
    )

    @model_validator(mode="after")
    def _can_be(self) -> Self:
        if 0.0 in self.factors:
            raise ValueError(
                "has a vertical of 0, a wheel that leaves the ground, which then does nothing; expected more than 0, "
                "such as 0.1."
            )
        if self.brake and self.drive:
            raise ValueError("has both brake and drive; keep one of them and make a second case of the other.")
        return self

    @property
    def factors(self) -> tuple[float, float]:
        """How often what it carries at rest the left and the right wheel carry."""
        left, right = self.vertical if isinstance(self.vertical, list) else (self.vertical, self.vertical)
        return left, right

    @property
    def heights(self) -> tuple[str | float, str | float]:
        """Where the left and the right wheel stand, in the scene's own unit."""
        left, right = self.at if isinstance(self.at, list) else (self.at, self.at)
        return left, right
