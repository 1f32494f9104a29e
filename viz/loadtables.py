"""Forces in load cases as tables on the screen: several cases side by side, or one with every component."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group
from rich.table import Table
from rich.text import Text

from model.forces import CaseLoads, CoiloverLoad, MountLoad
from model.spatial import norm
from model.units import Length
from viz.loadwords import (
    FOR_COMPARISON,
    HOW_FAR,
    SPRING_CAUTION,
    Said,
    along_text,
    axial_text,
    coilover_text,
    forces_said,
    is_nothing,
    notes_on,
    other_texts,
    rest_text,
    side_text,
    stands_text,
    vertical_text,
    weights_text,
)
from viz.report import section_parts
from viz.tables import Section, TextTable, both_sides
from viz.words import MINUS, NOTHING, both_names, both_of

# A force in N and a moment in N·mm at a mount that are smaller are printed as nothing.
LEAST_FORCE, LEAST_MOMENT = 0.5, 50.0
AXES = "Vehicle axes: forward, left and up are positive; in a row of both sides they are those of the left one."
# Where the sideways component stands in a row with a name before it.
SIDEWAYS = 2


def load_tables(loads: Sequence[CaseLoads], units: Length, left_out: Sequence[str] = ()) -> Group:
    """Everything of some cases of one scene; `left_out` are typical ones that the linkage does not reach."""
    mechanism = loads[0].poses.mechanism
    told: list[Text | Table] = [Text(f"{mechanism.title}: forces at joints and mounts", "bold")]
    told += [Text(weights_text(mechanism, units)), Text(FOR_COMPARISON, "bold"), Text()]
    tables = [_cases(loads, units), _coilovers(loads, units), _links(loads, units)]
    tables += [_mounts(loads[0], units), _moving(loads[0], units)] if len(loads) == 1 else [_sizes(loads, units)]
    tables.append(_others(loads, units))
    for table in tables:
        if table.rows:
            told += section_parts(Section("", (table,)))[1:]
    lines = [f"Left out, since the linkage locks before: {', '.join(left_out)}."] * bool(left_out)
    lines += [*notes_on(loads), rest_text(loads), SPRING_CAUTION]
    return Group(*told, *(Text(line, "dim") for line in lines))


def _cases(loads: Sequence[CaseLoads], units: Length) -> TextTable:
    rows = [
        (
            each.case.name,
            stands_text(each, units),
            vertical_text(each.case),
            along_text(each.case),
            side_text(each.case),
        )
        for each in loads
    ]
    heads = ("case", "wheels stand at", "times the weight", "along, share of it", "side, share of it")
    typical = all(each.case.typical for each in loads)
    return TextTable(f"Load cases{' (typical)' * typical}", heads, tuple(rows))


def _coilovers(loads: Sequence[CaseLoads], units: Length) -> TextTable:
    rows: list[tuple[str, ...]] = []
    for each in loads:
        mine = both_sides([_coilover(coilover, each, units) for coilover in each.coilovers])
        rows += [(each.case.name if number == 0 else "", *row) for number, row in enumerate(mine)]
    note = HOW_FAR if any("until" in row[-1] for row in rows) else ""
    return TextTable("Coilovers", ("case", "coilover", "has to push", "spring gives there", "so"), tuple(rows), note)


def _coilover(coilover: CoiloverLoad, loads: CaseLoads, units: Length) -> tuple[str, ...]:
    given = coilover.given
    said = forces_said((coilover.needed, given or 0.0), units)
    told = NOTHING if given is None else said(given)
    return coilover.name, said(coilover.needed), told, coilover_text(coilover, loads, said)


def _links(loads: Sequence[CaseLoads], units: Length) -> TextTable:
    names = [link.name for link in loads[0].links]
    rows = []
    for number, name in enumerate(names):
        axial = [each.links[number].axial for each in loads]
        said = forces_said(axial, units)
        rows.append((name, *(axial_text(force, said) for force in axial)))
    return TextTable("Along the links", ("link", *(each.case.name for each in loads)), both_sides(rows))


def _sizes(loads: Sequence[CaseLoads], units: Length) -> TextTable:
    rows = []
    mounts = {_key(mount): mount for each in loads for mount in each.on_frame}
    for key, mount in mounts.items():
        same = [next((one for one in each.on_frame if _key(one) == key), None) for each in loads]
        if any(one is not None and _does(one) for one in same):
            said = forces_said((float(norm(one.force)) for one in same if one is not None), units)
            rows.append((_name(mount), *(NOTHING if one is None else _size(one, units, said) for one in same)))
    return TextTable(
        "Into the frame",
        ("mount", *(each.case.name for each in loads)),
        both_sides(rows),
        "One case alone (--case NAME) tells directions, levers to the frame and the joints between moving parts too.",
    )


def _does(mount: MountLoad) -> bool:
    """Whether a mount does anything that is printed as more than nothing."""
    return bool(norm(mount.force) >= LEAST_FORCE or norm(mount.moment) >= LEAST_MOMENT)


def _key(mount: MountLoad) -> tuple[str, str]:
    """Torque that reaches the frame is not in every case: a mount is known by its member and place."""
    return mount.member, mount.place


def _size(mount: MountLoad, units: Length, said: Said) -> str:
    """The size of a mount's force, or of its moment where it has no force."""
    force, moment = float(norm(mount.force)), float(norm(mount.moment))
    return units.moment_text(moment) if force == 0.0 and moment > 0.0 else said(force)


def _name(mount: MountLoad) -> str:
    place = "" if mount.place == "at frame" else f", {mount.place}"
    return f"{mount.member}{place}"


def _row(mount: MountLoad, units: Length) -> tuple[str, ...]:
    force, moment = float(norm(mount.force)), float(norm(mount.moment))
    said = forces_said((force,), units)
    return (
        *(_component(value, said) for value in mount.force),
        said(force),
        units.moment_text(moment) if moment > LEAST_MOMENT else NOTHING,
    )


def _component(newton: float, said: Said) -> str:
    text = said(newton)
    return text if newton < 0.0 or is_nothing(text) else f"+{text}"


def _mounts(loads: CaseLoads, units: Length) -> TextTable:
    rows = []
    for mount in filter(_does, loads.on_frame):
        lever = mount.lever
        rows.append(
            (
                _name(mount),
                *_row(mount, units),
                NOTHING if lever is None else f"{units.text(lever.arm)} from {_bare(lever.path)}",
                NOTHING if lever is None else units.moment_text(float(norm(lever.moment))),
            )
        )
    heads = ("mount", "forward", "left", "up", "size", "own moment", "lever to the frame", "bends it with")
    note = f"{AXES} The lever is to the middle line of the nearest frame path in the scene."
    return TextTable("Into the frame", heads, _mirrored(rows), note)


def _mirrored(rows: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Rows of a left and a right mount as one where either mirrors the other, with the left one's signs."""
    known = {row[0]: row for row in rows}
    told = []
    for row in rows:
        left, right = (known.get(name) for name in both_names(row[0]) or ("", ""))
        if left is None or right is None or left[1:] != _seen_in_mirror(right)[1:]:
            told.append(row)
        elif row is left:
            told.append((both_of(row[0]), *row[1:]))
    return tuple(told)


def _seen_in_mirror(row: tuple[str, ...]) -> tuple[str, ...]:
    """The same row with its sideways component the other way round."""
    flipped = row[SIDEWAYS].translate(str.maketrans(f"+{MINUS}", f"{MINUS}+"))
    return (*row[:SIDEWAYS], flipped, *row[SIDEWAYS + 1 :])


def _bare(name: str) -> str:
    """A frame path without its side: a mount and its rail are on the same one, as a rule."""
    return name.removeprefix("left ").removeprefix("right ")


def _moving(loads: CaseLoads, units: Length) -> TextTable:
    rows = [(f"{mount.member}, {mount.place}", *_row(mount, units)) for mount in loads.mounts if mount.on != "frame"]
    heads = ("joint", "forward", "left", "up", "size", "own moment")
    return TextTable("Into moving parts: what a member does to the part that is named", heads, _mirrored(rows), AXES)


def _others(loads: Sequence[CaseLoads], units: Length) -> TextTable:
    """What holds the steering, what twists anti-roll bars and what bends links."""
    said = forces_said((each.steering.force for each in loads if each.steering and not each.steering.turns), units)
    told = [other_texts(each, units, said) for each in loads]
    names = dict.fromkeys(name for each in told for name in each)
    rows = [(name, *(each.get(name, NOTHING) for each in told)) for name in names]
    return TextTable("Beside that", ("what", *(each.case.name for each in loads)), both_sides(rows))
