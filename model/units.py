"""What a person writes and reads: mm or inch, N/mm or lbf/in, degrees. Inside there is only mm, N, rad."""

from __future__ import annotations

import math
from enum import StrEnum

MM_PER_INCH = 25.4  # exact, international yard and pound agreement of 1959
KG_FORCE = 9.80665  # N, standard gravity (3rd CGPM, 1901), exact
N_PER_LBF = 4.4482216152605  # exact, same agreement with g = 9.80665 m/s²


class Length(StrEnum):
    """A unit of length for a scene file or for what is printed."""

    MM = "mm"
    INCH = "in"

    @property
    def mm(self) -> float:
        """Length of one unit in mm."""
        return 1.0 if self is Length.MM else MM_PER_INCH

    @property
    def rate(self) -> float:
        """One unit of spring rate (N/mm, or lbf/in) in N/mm."""
        return 1.0 if self is Length.MM else N_PER_LBF / MM_PER_INCH

    @property
    def weight(self) -> float:
        """What scales call one (kg, or lb) as a force in N, with standard gravity."""
        return KG_FORCE if self is Length.MM else N_PER_LBF

    @property
    def moment(self) -> float:
        """One unit of moment (N·m, or lbf·ft) in N·mm."""
        return 1000.0 if self is Length.MM else 12.0 * N_PER_LBF * MM_PER_INCH

    @property
    def turn_rate(self) -> float:
        """One unit of turning rate (N·m for a degree, or lbf·ft for a degree) in N·mm/rad."""
        return math.degrees(self.moment)

    def text(self, mm: float) -> str:
        """A length for a person: whole tenths of a mm below 10 mm, whole mm above; two decimals in inch."""
        if self is Length.INCH:
            return f"{mm / MM_PER_INCH:.2f} in"
        return f"{mm:.1f} mm" if abs(mm) < 9.95 else f"{mm:.0f} mm"

    def weight_text(self, newton: float) -> str:
        """What scales would show of a force: whole kg, or whole lb."""
        return f"{newton / self.weight:.0f} {'lb' if self is Length.INCH else 'kg'}"

    def force_text(self, newton: float) -> str:
        """A force for a person: N, kN from 10,000 N on, or lbf."""
        if self is Length.INCH:
            return f"{newton / N_PER_LBF:,.0f} lbf"
        return f"{newton / 1000.0:.1f} kN" if abs(newton) >= 9_950.0 else f"{newton:.0f} N"

    def moment_text(self, newton_mm: float) -> str:
        """A moment for a person: tenths of N·m, or of lbf·ft."""
        return f"{round(newton_mm / self.moment, 1) + 0.0:.1f} {'lbf·ft' if self is Length.INCH else 'N·m'}"

    def rate_text(self, rate: float) -> str:
        """A spring rate for a person, from N/mm: tenths of N/mm, or whole lbf/in."""
        return f"{rate / self.rate:.0f} lbf/in" if self is Length.INCH else f"{rate:.1f} N/mm"

    def fine_text(self, mm: float) -> str:
        """A small length, such as the give of a bush: one digit more."""
        return f"{mm / MM_PER_INCH:.3f} in" if self is Length.INCH else f"{mm:.2f} mm"


def degrees_text(degrees: float) -> str:
    """An angle for a person."""
    return f"{degrees:.1f}°"


class MeshUnit(StrEnum):
    """A unit of length of a mesh file."""

    MM = "mm"
    INCH = "in"
    METRE = "m"

    @property
    def mm(self) -> float:
        """Length of one unit in mm."""
        return {MeshUnit.MM: 1.0, MeshUnit.INCH: MM_PER_INCH, MeshUnit.METRE: 1000.0}[self]
