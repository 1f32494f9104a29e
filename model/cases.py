"""Load cases of a scene file: what the ground does to the wheels, as shares of what they carry at rest."""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import Field, PlainValidator, WithJsonSchema, model_validator

from model.fields import LARGEST, NotNegative, Share, SidedFactor, Table, is_number

PLACES, SETTLED = ("ride", "bump", "droop"), "settled"
Height = str | float


def _heights(value: Any) -> tuple[Height, Height]:
    """Where the left and the right wheel stand."""
    both = value if isinstance(value, list | tuple) else [value, value]
    settled = list(both) == [SETTLED, SETTLED]
    if len(both) != 2 or not all(settled or each in PLACES or _is_height(each) for each in both):
        raise ValueError(
            'expected "ride", "bump", "droop", "settled" or a height above ride height, or two in brackets for '
            "left and right, such as [20, -20]"
        )
    left, right = (each if isinstance(each, str) else float(each) for each in both)
    return left, right


def _is_height(value: Any) -> bool:
    return is_number(value) and abs(value) <= LARGEST


_ONE = [{"enum": list(PLACES)}, {"type": "number", "minimum": -LARGEST, "maximum": LARGEST}]
Heights = Annotated[
    tuple[Height, Height],
    PlainValidator(_heights),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": [SETTLED]},
                *_ONE,
                {"type": "array", "items": {"anyOf": _ONE}, "minItems": 2, "maxItems": 2},
            ]
        }
    ),
]


class Case(Table):
    """One load case: the ground's forces on each wheel, and where the wheels stand."""

    vertical: SidedFactor = Field(
        1.0, description="how often the weight that the wheel carries at rest: of both wheels, or [left, right]"
    )
    brake: NotNegative = Field(0.0, description="braking force, as a share of the vertical force")
    drive: NotNegative = Field(0.0, description="driving force on driven wheels, as a share of the vertical force")
    side: Share = Field(
        0.0,
        description="side force, as a share of the vertical force; positive pushes the tyres to the left",
    )
    at: Heights = Field(
        ("ride", "ride"),
        description="where the wheels stand: at ride height, full bump, full droop, this far above ride height, or "
        "settled on their springs and anti-roll bar under the load; both alike, or [left, right]",
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
        return self.vertical if isinstance(self.vertical, tuple) else (self.vertical, self.vertical)
