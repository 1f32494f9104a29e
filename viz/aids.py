"""What may be drawn into a still to explain it, beside the marks that every still has."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Aids:
    """Aids of one still.

    `ruler`: a travel ruler beside each wheel. `ghost`: where every part stands at ride height. `glass`: a frame that is
    seen through. `section`: everything before the joint that is looked at cut away. `measure`: the lengths, by their
    names, that are drawn as dimension lines.
    """

    ruler: bool = False
    ghost: bool = False
    glass: bool = False
    section: bool = False
    measure: tuple[str, ...] = ()

    @property
    def words(self) -> list[str]:
        """What a person has to know of them, for the caption."""
        return ["pale: at ride height"] * self.ghost + ["frame seen through"] * self.glass + ["cut open"] * self.section
