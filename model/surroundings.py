"""What a suspension must keep clear of and what stops it: brakes, straps, own meshes, wanted gaps."""

from __future__ import annotations

import numpy as np

from model import mechanism as made
from model import scenery as written
from model.naming import suggestion
from model.workbench import Workbench


def brake(bench: Workbench, name: str, entry: written.Brake, side: str | None) -> made.Brake:
    """A brake disc with the envelope of its caliper."""
    full, where = bench.names.sided(name, side), f'[brake."{name}"]'
    wheel = bench.names.part(f"{where} wheel", entry.wheel, side, bench.scene.wheel)
    outer, width = entry.caliper_outer, entry.caliper_width
    if outer is not None and 2.0 * outer < entry.diameter:
        bench.names.complain(
            where, "has a caliper_outer inside its disc: it is a radius; expected at least half the disc's diameter."
        )
    return made.Brake(
        name=full,
        wheel=wheel,
        diameter=entry.diameter * bench.mm,
        thickness=entry.thickness * bench.mm,
        inboard=entry.inboard * bench.mm,
        caliper_outer=None if outer is None else outer * bench.mm,
        caliper_width=None if width is None else width * bench.mm,
        caliper_angle=float(np.radians(entry.caliper_angle)),
        caliper_span=float(np.radians(entry.caliper_span)),
    )


def strap(bench: Workbench, name: str, entry: written.Strap, side: str | None) -> made.Strap:
    """A limit strap between two fixings."""
    full, where = bench.names.sided(name, side), f'[strap."{name}"]'
    ends, length = bench.slack(where, entry, side)
    return made.Strap(full, ends, length)


def own_mesh(bench: Workbench, name: str, entry: written.OwnMesh, side: str | None, labels: set[str]) -> made.OwnMesh:
    """A mesh file in place of a part's shape."""
    rotation, move = bench.placed(entry.place)
    return made.OwnMesh(
        name=bench.names.sided(name, side),
        of=_label(bench, f'[mesh."{name}"] of', entry.of, side, labels),
        file=entry.file,
        scale=entry.units.mm,
        rotation=rotation,
        move=move,
        mirrored=side == "right",
    )


def gap(bench: Workbench, name: str, entry: written.Gap, side: str | None, labels: set[str]) -> made.Gap:
    """What is wanted of the distance between two parts."""
    where = f'[gap."{name}"] between'
    first, second = (_label(bench, where, part, side, labels) for part in entry.between)
    if first == second:
        bench.names.complain(where, "names the same part twice; name two.")
    return made.Gap((first, second), None if entry.wanted is None else entry.wanted * bench.mm)


def wanted_gaps(bench: Workbench, entry: written.Wanted | None) -> made.WantedGaps:
    """Least distances by kind."""
    if entry is None:
        return made.WantedGaps()
    given = {key: value * bench.mm for key, value in entry.model_dump().items() if value is not None}
    return made.WantedGaps(**given)


def _label(bench: Workbench, where: str, name: str, side: str | None, labels: set[str]) -> str:
    """The full name of anything that has a shape, as seen from a side."""
    for full in ([] if side is None else [f"{side} {name}"]) + [name]:
        if full in labels:
            return full
    if f"left {name}" in labels:
        bench.names.complain(where, f'is "{name}", of which there are two; write "left {name}" or "right {name}".')
    else:
        bench.names.complain(where, f'is "{name}", which nothing is called; {suggestion(name, labels)}')
    return name
