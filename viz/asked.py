"""The pose that a call asks for, as it was typed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from model.errors import CallError
from model.units import Length

if TYPE_CHECKING:
    from model.mechanism import Mechanism
    from model.travel import Travel

# Inches are printed to two decimals: half of the last is 0.127 mm.
ROUNDING = 0.13


@dataclass(frozen=True)
class Asked:
    """Heights in the person's unit and steering in percent of lock; or the worst pose of all."""

    bump: float = 0.0
    roll: float = 0.0
    left: float | None = None
    right: float | None = None
    steer: float = 0.0
    worst: bool = False

    @property
    def options(self) -> tuple[str, ...]:
        """The options that move something."""
        values = {"--bump": self.bump or None, "--roll": self.roll or None, "--left": self.left, "--right": self.right}
        values["--steer"] = self.steer or None
        return tuple(name for name, value in values.items() if value is not None)

    def check(self) -> None:
        """Refuse what does not go together.

        Raises:
            CallError: a pose beside the worst, or heights asked for in two ways.

        """
        if self.worst and self.options:
            raise CallError(
                f"--worst chooses the pose itself and does not go with {', '.join(self.options)}; use one or the other."
            )
        if (self.bump or self.roll) and (self.left is not None or self.right is not None):
            raise CallError("--bump and --roll do not go with --left and --right; use one pair or the other.")
        if not -100.0 <= self.steer <= 100.0:
            raise CallError(
                f"--steer is {self.steer:g}, expected -100 (full right lock) to 100 (full left lock) percent."
            )


def travel_asked(asked: Asked, mechanism: Mechanism, length: Length) -> Travel:
    """The only pose of a travel, of one that is not the worst.

    Raises:
        CallError: it moves what the scene does not have, or farther than the scene lets it.

    """
    from model.travel import single

    asked.check()
    drives = {drive.name: drive for drive in mechanism.drives}
    for name, value in (("left", asked.left), ("right", asked.right), ("steer", asked.steer or None)):
        if value is not None and name not in drives:
            what = "steering" if name == "steer" else f"{name} wheel"
            raise CallError(f"--{name} moves the {what}, which this scene does not have; leave --{name} out.")
    heights = {
        "left": asked.bump + asked.roll if asked.left is None else asked.left,
        "right": asked.bump - asked.roll if asked.right is None else asked.right,
    }
    values = {name: value * length.mm for name, value in heights.items() if name in drives}
    for name, value in values.items():
        low, high = drives[name].low, drives[name].high
        # What a person rounds to print and types again is still inside.
        if not low - ROUNDING <= value <= high + ROUNDING:
            raise CallError(
                f"the {name} wheel would be at {length.text(value)}, outside its travel from {length.text(low)} to "
                f"{length.text(high)}; choose a height inside it or widen [travel] in the scene."
            )
        values[name] = min(max(value, low), high)
    return single(mechanism, **values, **({"steer": asked.steer / 100.0} if asked.steer else {}))
