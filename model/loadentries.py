"""What a scene's weights and load cases add to a mechanism."""

from __future__ import annotations

from model import mechanism as made
from model import scene as written
from model.cases import Case
from model.naming import SIDES
from model.workbench import Workbench


def weights(bench: Workbench, entry: written.Weights | None) -> made.Weights | None:
    """What the ground carries under each wheel, as forces."""
    if entry is None:
        return None
    newton = bench.scene.units.weight
    left, right = (entry.wheel or (entry.left if side == "left" else entry.right) or 0.0 for side in SIDES)
    return made.Weights(left * newton, right * newton, entry.unsprung * newton)


def case(bench: Workbench, name: str, entry: Case) -> made.LoadCase:
    """A load case with its heights in mm."""
    where, travel = f'[case."{name}"]', bench.scene.travel
    if entry.drive and not any(wheel.driven for wheel in bench.scene.wheel.values()):
        bench.names.complain(
            where, "drives, and no wheel is driven; add driven = true to the wheel, or leave drive out."
        )
    for height in entry.at:
        if not isinstance(height, str) and not -travel.droop <= height <= travel.bump:
            bench.names.complain(
                f"{where} at",
                f"is {height:g}, expected a height inside [travel], {-travel.droop:g} to {travel.bump:g}; correct it.",
            )
    left, right = (height if isinstance(height, str) else height * bench.mm for height in entry.at)
    return made.LoadCase(name, entry.factors, entry.brake, entry.drive, entry.side, (left, right))
