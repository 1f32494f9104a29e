"""What is held twice over goes on with its joints as springs: every link and arm of such a system gives at its ends.

Rigid parts that are held twice over could not move at all. Here the rows of links and arms go, each link and arm
becomes a body, and each of its ends a bushing; a link that turns freely on both ends becomes a spring along its length.
All other rows stay: wheel heights, struts, kingpins, steering.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace

import numpy as np

from model.bushings import give_of
from model.constraints import System, systems
from model.equilibrium import ride_tangent
from model.errors import SceneError
from model.joints import BUSH_KINDS, JointKind
from model.mechanism import Arm, Body, Bushing, End, Link, Mechanism, Motion, TwoForceLink
from model.mobility import SINGULAR as RIGID
from model.mobility import held_twice, joined, moving
from model.spatial import Array, unit
from model.units import Length

# N/mm in every direction, of a joint that does not give by design. From memory, order only.
NEARLY_RIGID = 5e4
# What to try where the maker's figures are not at hand: radial and axial in N/mm, turn and cock in N·m for a degree.
# Typical of a bush of a link or arm, from memory.
TYPICAL = {
    JointKind.RUBBER_BUSH: {"radial": 5000.0, "axial": 1000.0, "turn": 1.5, "cock": 6.0},
    JointKind.POLY_BUSH: {"radial": 15000.0, "axial": 5000.0, "cock": 30.0},
    JointKind.PLAIN_SLEEVE: {"radial": 30000.0, "axial": 10000.0, "cock": 100.0},
}
# Of a motion that the rows allow: one with less stiffness than this share of the largest has none but rounding.
SINGULAR = 1e-11


def soften(mechanism: Mechanism, units: Length = Length.MM, tables: Collection[str] = ()) -> Mechanism:
    """A mechanism in which all that is held twice over moves by the give of its joints; the same one if nothing is.

    Args:
        mechanism: rigid, with nothing loose.
        units: those in which rates are offered to the person.
        tables: names of the scene's [joint] tables, which can be given rates; any other joint is a plain kind.

    Raises:
        SceneError: with a sentence for each joint without the rates it needs, and for a part that its joints let spin.

    """
    twice = held_twice(mechanism)
    if not twice:
        return mechanism
    names = {name for held in twice for name in held.system.members}
    links = [link for link in mechanism.links if link.name in names]
    arms = [arm for arm in mechanism.arms if arm.name in names]
    ends = [(link.name, end) for link in links for end in link.ends]
    ends += [(arm.name, end) for arm in arms for end in arm.ends]
    fighting = list(dict.fromkeys(name for held in twice for name in held.members))
    _check_rates(ends, fighting, units, tables)
    soft = _softened(mechanism, links, arms)
    giving = [system for system in systems(soft) if give_of(soft, system).members]
    for sentence in (_fixed_text, _spinning_text):
        complaints = [sentence(soft, system) for system in giving]
        if any(complaints):
            raise SceneError([text for text in complaints if text is not None])
    return soft


def _fixed_text(mechanism: Mechanism, system: System) -> str | None:
    """A sentence for rows that fight without any link or arm among them."""
    fighting = [name for held in held_twice(mechanism) if held.system is system for name in held.members]
    if not fighting:
        return None
    return (
        f"{joined(fighting)} {'holds a part' if len(fighting) == 1 else 'hold one part'} twice over and no joint there "
        "gives, so that it cannot go up and down; hang it on links, an arm or an axle that can."
    )


def _softened(mechanism: Mechanism, links: list[Link], arms: list[Arm]) -> Mechanism:
    bodies = list(mechanism.bodies)
    number = {body.name: place for place, body in enumerate(bodies)}

    def part(name: str) -> int:
        if name not in number:
            number[name] = len(bodies)
            bodies.append(Body(name, Motion.FREE))
        return number[name]

    bushings, elastic = [], []
    for link in links:
        first, second = link.ends
        if _turns_freely(first) and _turns_freely(second):
            along = unit(second.at - first.at)
            rates = (_rate_along(first, along), _rate_along(second, along))
            elastic.append(TwoForceLink(link.name, link.ends, (number[first.on], number[second.on]), rates))
        else:
            bushings += [_bushing(link.name, end, part(link.name), number[end.on]) for end in link.ends]
    for arm in arms:
        bushings += [_bushing(arm.name, end, part(arm.name), number[end.on]) for end in arm.ends]
    gone = {link.name for link in links} | {arm.name for arm in arms}
    return replace(
        mechanism,
        bodies=tuple(bodies),
        rows=tuple(row for row in mechanism.rows if row.member not in gone),
        arms=tuple(replace(arm, body=True) if arm.name in gone else arm for arm in mechanism.arms),
        bushings=tuple(bushings),
        elastic_links=tuple(elastic),
        rigid=mechanism,
    )


def _bushing(member: str, end: End, part: int, holder: int) -> Bushing:
    given, (radial, axial) = end.joint.rates, straight_rates(end)
    return Bushing(
        member=member,
        end=end,
        part=part,
        holder=holder,
        radial=radial,
        axial=axial,
        turn=given.turn or 0.0,
        cock=given.cock or 0.0,
    )


def straight_rates(end: End) -> tuple[float, float]:
    """Stiffness in N/mm of a joint square to its bolt and along it."""
    given = end.joint.rates
    radial, axial = (NEARLY_RIGID if rate is None else rate for rate in (given.radial, given.axial))
    return radial, axial


def _turns_freely(end: End) -> bool:
    return not end.joint.rates.turn and not end.joint.rates.cock


def _rate_along(end: End, along: Array) -> float:
    """Stiffness in N/mm of an end pulled along a direction (3,): the compliances along and square to its bolt add."""
    radial, axial = straight_rates(end)
    share = float(np.dot(end.bolt, along)) ** 2
    return 1.0 / (share / axial + (1.0 - share) / radial)


def needs_rates(kind: JointKind) -> tuple[str, ...]:
    """The rates that equilibrium cannot do without: only bushes have a give of their own, and only rubber winds up."""
    return tuple(TYPICAL.get(kind, ()))


def _check_rates(ends: Iterable[tuple[str, End]], fighting: list[str], units: Length, tables: Collection[str]) -> None:
    """Complain once of each joint that lacks rates or has a zero where a spring is needed."""
    complaints = {}
    for member, end in ends:
        joint = end.joint
        needed = needs_rates(joint.kind) if joint.kind in BUSH_KINDS else ()
        missing = [key for key in needed if not getattr(joint.rates, key)]
        missing += [key for key in ("radial", "axial") if key not in needed and getattr(joint.rates, key) == 0.0]
        if missing and joint.name not in complaints:
            complaints[joint.name] = _missing_text(member, end, missing, fighting, units, joint.name in tables)
    if complaints:
        raise SceneError(list(complaints.values()))


def _missing_text(member: str, end: End, missing: list[str], fighting: list[str], units: Length, table: bool) -> str:
    joint = end.joint
    why = f"which is needed because {joined(fighting)} hold one part twice over and it moves by the give of its joints"
    rates = _typical_text(joint.kind, units)
    if not table:
        return (
            f'"{joint.name}" is the joint of "{member}", {end.place}, and a plain kind has no rates, {why}; make a '
            f'[joint.NAME] table with kind = "{joint.kind}" and {rates}, and name it there.'
        )
    zero = all(getattr(joint.rates, key) == 0.0 for key in missing)
    keys = [f"rates.{key}" for key in missing]
    named = keys[0] if len(keys) == 1 else f"{', '.join(keys[:-1])} and {keys[-1]}"
    return f'[joint."{joint.name}"] has {"a zero for" if zero else "no"} {named}, {why}; give it {rates}.'


def _typical_text(kind: JointKind, units: Length) -> str:
    if kind not in TYPICAL:
        return "rates above zero, or leave them out"
    turning = units.turn_rate / Length.MM.turn_rate
    unit_of = {"radial": units.rate, "axial": units.rate, "turn": turning, "cock": turning}
    text = ", ".join(f"{key} = {_rounded(value / unit_of[key])}" for key, value in TYPICAL[kind].items())
    measure = "N/mm and N·m per degree" if units is Length.MM else "lbf/in and lbf·ft per degree"
    return f"the maker's rates, or to try first the typical rates = {{ {text} }} ({measure}, from memory)"


def _rounded(value: float) -> str:
    """Two figures that are worth something, without an exponent."""
    return f"{float(f'{value:.2g}'):g}"


def _spinning_text(mechanism: Mechanism, system: System) -> str | None:
    """A sentence for parts that their joints let move without any force."""
    matrix = ride_tangent(system, give_of(mechanism, system), len(mechanism.drives))
    tangent, rows = matrix[: system.unknowns, : system.unknowns], matrix[system.unknowns :, : system.unknowns]
    _, held, right = np.linalg.svd(rows)
    motions = right[np.count_nonzero(held > RIGID * held.max(initial=0.0)) :]
    stiffness, shapes = np.linalg.eigh(motions @ tangent @ motions.T)
    free = shapes[:, stiffness < SINGULAR * np.abs(tangent).max()].T @ motions
    if len(free) == 0:
        return None
    names = moving(mechanism, system, free)
    return (
        f"{joined(names)} would spin freely, since no joint of {'it' if len(names) == 1 else 'them'} resists that "
        "motion; give one of its joints a turn or cock rate above zero."
    )
