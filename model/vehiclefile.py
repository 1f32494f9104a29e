"""The vehicle file as typed records: which two scenes make a car, and what belongs to neither of them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, ValidationError, model_validator

from model.complaints import sentences
from model.errors import SceneError
from model.fields import Name, Positive, Table, Text
from model.tomlfile import read_toml
from model.units import Length

Percent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
# Weights that differ by less than this share are the same: scales and drivers come to about as much.
SAME_WEIGHT = 0.02


class WholeWeight(Table):
    """What the whole car weighs at ride height, kg or lb: all of it and the front's share, or what scales show."""

    total: Positive | None = None
    front_percent: Percent | None = Field(None, description="how much of it stands on the front wheels")
    front_left: Positive | None = None
    front_right: Positive | None = None
    rear_left: Positive | None = None
    rear_right: Positive | None = None

    @property
    def corners(self) -> tuple[float, float, float, float] | None:
        """What scales show, front left, front right, rear left, rear right; `None` where that is not given."""
        found = (self.front_left, self.front_right, self.rear_left, self.rear_right)
        given = [weight for weight in found if weight is not None]
        return (given[0], given[1], given[2], given[3]) if len(given) == len(found) else None

    @model_validator(mode="after")
    def _adds_up(self) -> Self:
        sided = [key for key in type(self).model_fields if key.startswith(("front_l", "front_r", "rear_"))]
        given = [key for key in sided if getattr(self, key) is not None]
        if given and len(given) < len(sided):
            lacking = " and ".join(key for key in sided if key not in given)
            raise ValueError(f"has {' and '.join(given)} and no {lacking}; give all four, or total and front_percent.")
        corners = self.corners
        if corners is None:
            if self.total is None or self.front_percent is None:
                raise ValueError("needs total and front_percent, or what scales show under each wheel; add them.")
            return self
        if self.total is not None and abs(sum(corners) - self.total) > SAME_WEIGHT * self.total:
            raise ValueError(
                f"has a total of {self.total:g}, and its corners add up to {sum(corners):g}; correct one of them."
            )
        share = 100.0 * sum(corners[:2]) / sum(corners)
        if self.front_percent is not None and abs(share - self.front_percent) > 100.0 * SAME_WEIGHT:
            raise ValueError(
                f"has a front_percent of {self.front_percent:g}, and of its corners {share:.1f} % stand in front; "
                "correct one of them."
            )
        return self


class Vehicle(Table):
    """A whole car: its front and its rear scene and what belongs to both."""

    title: Name
    units: Annotated[Length, Field(strict=False)] = Field(
        description="of every length here: mm (weights in kg) or in (lb)"
    )
    front: Text = Field(description="scene file of the front, beside this one")
    rear: Text = Field(description="scene file of the rear, beside this one")
    front_variant: Name | None = Field(None, description="variant of the front scene")
    rear_variant: Name | None = Field(None, description="variant of the rear scene")
    wheelbase: Positive
    centre_of_gravity_height: Positive = Field(description="of the whole car above the ground at ride height")
    brake_front_percent: Percent = Field(description="how much of the braking force is at the front wheels")
    drive: Literal["front", "rear", "all"]
    drive_front_percent: Percent | None = Field(None, description="with drive = all: how much of it goes to the front")
    weights: WholeWeight | None = Field(None, description="left out: what the [weights] of both scenes say")

    @model_validator(mode="after")
    def _driven(self) -> Self:
        if (self.drive == "all") != (self.drive_front_percent is not None):
            raise ValueError('needs drive_front_percent with drive = "all" and only with it; add it or take it out.')
        return self

    @property
    def drive_front(self) -> float:
        """The front wheels' share of the driving force."""
        if self.drive_front_percent is not None:
            return 0.01 * self.drive_front_percent
        return 1.0 if self.drive == "front" else 0.0


def read_vehicle(path: Path) -> Vehicle:
    """Read a vehicle file; its scenes, named beside it there, have full paths here.

    Raises:
        SceneError: with every mistake found, each a sentence that begins with the file's name.

    """
    data = read_toml(path, "vehicle", "scenes/vehicles/wren.toml")
    if "points" in data:
        raise SceneError(f"{path} is a scene, expected a vehicle file that names two of them; see scenes/vehicles.")
    try:
        vehicle = Vehicle.model_validate(data)
    except ValidationError as error:
        complaints = sentences(error.errors(include_url=False), Vehicle)
        raise SceneError([f"{path}: {complaint}" for complaint in complaints]) from None
    found = {key: (path.parent / getattr(vehicle, key)).resolve() for key in ("front", "rear")}
    lacking = [
        f'{path}: {key} is "{getattr(vehicle, key)}", which is not a file beside it; check the name.'
        for key, file in found.items()
        if not file.is_file()
    ]
    if lacking:
        raise SceneError(lacking)
    return vehicle.model_copy(update={key: str(file) for key, file in found.items()})
