"""The kinds of values that a scene file holds: numbers within reason, names, points, directions."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, PlainValidator, WithJsonSchema

NAME_LENGTH = 60  # longer names do not fit a table or a label
# A name that is referred to may have a side before it and one of its halves behind it.
REFERENCE_LENGTH = NAME_LENGTH + len("right ") + len(" first piece")
TEXT_LENGTH = 200
# No vehicle is 100 m (or, in inches, 2.5 km) long; a slip of the keyboard would come back as rounding error.
LARGEST = 1e5
# A direction shorter than this has lost its digits.
SHORTEST = 1e-6


def is_number(value: Any) -> bool:
    """Whether a value of the file is a number; true and false are not."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _three_numbers(value: Any) -> tuple[float, float, float]:
    if not isinstance(value, list | tuple) or not all(is_number(entry) for entry in value):
        raise ValueError("expected three numbers in brackets, [x, y, z]")
    if len(value) != 3:
        raise ValueError(f"has {len(value)} number{'' if len(value) == 1 else 's'}, expected three, [x, y, z]")
    if not all(abs(entry) <= LARGEST for entry in value):  # false for NaN too
        raise ValueError(f"holds a number that is not between -{LARGEST:.0f} and {LARGEST:.0f}")
    return (float(value[0]), float(value[1]), float(value[2]))


def _direction(value: Any) -> Direction:
    if isinstance(value, str) and value in WORDS:
        return value
    if isinstance(value, list | tuple) and len(value) == 2 and all(isinstance(entry, str) for entry in value):
        return (_reference(value[0]), _reference(value[1]))
    if isinstance(value, list | tuple) and value and all(is_number(entry) for entry in value):
        vector = _three_numbers(value)
        if math.hypot(*vector) < SHORTEST:
            raise ValueError("has no length, expected a vector such as [0, 1, 0]")
        return vector
    raise ValueError('expected "across", "along", "up", a vector [x, y, z] or two point names ["a", "b"]')


def _sided(low: float, high: float) -> Callable[[Any], float | tuple[float, float]]:
    """A check of one number for both sides, or [left, right], each from low to high."""

    def checked(value: Any) -> float | tuple[float, float]:
        numbers = list(value) if isinstance(value, list | tuple) else [value]
        if len(numbers) > 2 or not numbers or not all(is_number(entry) for entry in numbers):
            raise ValueError("expected a number, or two in brackets, [left, right]")
        if isinstance(value, list | tuple) and len(numbers) != 2:
            raise ValueError("expected two numbers in brackets, [left, right]")
        if not all(low <= entry <= high for entry in numbers):  # false for NaN too
            raise ValueError(f"expected {low:g} to {high:g}")
        return float(numbers[0]) if len(numbers) == 1 else (float(numbers[0]), float(numbers[1]))

    return checked


def _sided_schema(low: float, high: float) -> WithJsonSchema:
    number = {"type": "number", "minimum": low, "maximum": high}
    return WithJsonSchema({"anyOf": [number, {"type": "array", "items": number, "minItems": 2, "maxItems": 2}]})


def _name(value: str, longest: int = NAME_LENGTH) -> str:
    if not value.strip() or len(value) > longest or not value.isprintable():
        raise ValueError(f"expected a name of 1 to {longest} printable characters")
    # An accent may be typed as one character or as two; they look the same and must be the same name.
    return unicodedata.normalize("NFC", value)


def _reference(value: str) -> str:
    return _name(value, REFERENCE_LENGTH)


def _text(value: str) -> str:
    if not value.strip() or len(value) > TEXT_LENGTH or not value.isprintable():
        raise ValueError(f"expected 1 to {TEXT_LENGTH} printable characters")
    return value


def _point_name(value: str) -> str:
    if value.startswith("left "):
        raise ValueError('may not begin with "left "; the left one goes by the name alone')
    return _name(value, NAME_LENGTH + len("right "))


def _own_name(value: str) -> str:
    if value.startswith(("left ", "right ")):
        raise ValueError('may not begin with "left " or "right ", which the mirrored halves use')
    return _name(value)


WORDS = {"along": (1.0, 0.0, 0.0), "across": (0.0, 1.0, 0.0), "up": (0.0, 0.0, 1.0)}

Direction = str | tuple[float, float, float] | tuple[str, str]
Point = Annotated[
    tuple[float, float, float],
    PlainValidator(_three_numbers),
    WithJsonSchema({"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}),
]
DirectionValue = Annotated[
    Direction,
    PlainValidator(_direction),
    WithJsonSchema(
        {
            "anyOf": [
                {"enum": ["across", "along", "up"]},
                {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3},
                {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
            ]
        }
    ),
]
Name = Annotated[str, AfterValidator(_name)]
Reference = Annotated[str, AfterValidator(_reference)]
OwnName = Annotated[str, AfterValidator(_own_name)]
PointName = Annotated[str, AfterValidator(_point_name)]
Text = Annotated[str, AfterValidator(_text)]
Positive = Annotated[float, Field(gt=0, le=LARGEST, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, le=LARGEST, allow_inf_nan=False)]
# One number for both sides of a mirrored entry, or one for each.
SidedLength = Annotated[float | tuple[float, float], PlainValidator(_sided(0.0, LARGEST)), _sided_schema(0.0, LARGEST)]
SidedPositive = Annotated[
    float | tuple[float, float], PlainValidator(_sided(SHORTEST, LARGEST)), _sided_schema(SHORTEST, LARGEST)
]
SidedAway = Annotated[float | tuple[float, float], PlainValidator(_sided(-LARGEST, 0.0)), _sided_schema(-LARGEST, 0.0)]
SidedTurn = Annotated[float | tuple[float, float], PlainValidator(_sided(-180.0, 180.0)), _sided_schema(-180.0, 180.0)]
SidedFactor = Annotated[float | tuple[float, float], PlainValidator(_sided(0.0, 20.0)), _sided_schema(0.0, 20.0)]
SidedAngle = Annotated[float | tuple[float, float], PlainValidator(_sided(-15.0, 15.0)), _sided_schema(-15.0, 15.0)]
FullTurn = Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=-10, le=10, allow_inf_nan=False)]
LimitAngle = Annotated[float, Field(gt=0, le=90, allow_inf_nan=False)]
LimitTurn = Annotated[float, Field(gt=0, le=180, allow_inf_nan=False)]


class Table(BaseModel):
    """One table of the scene file: no unknown keys, no silent conversions, never changed after reading."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


def refuse(table: Table, keys: list[str], who: str, instead: str) -> None:
    """Refuse keys that a table was given though they would do nothing there."""
    wrong = [key for key in keys if key in table.model_fields_set]
    if wrong:
        raise ValueError(f"has {' and '.join(wrong)}, which {who}; {instead} or leave out {' and '.join(wrong)}.")
